package mem

import "sync"

// Shelf keeps in memory, by name, what can be worked out anew: depth surfaces for several desks on one lake. The zero
// value is ready. It is safe for concurrent use and never forgets: for tests and short runs.
type Shelf struct{ kept sync.Map }

// Recall gives what was kept under the name, or nil.
func (s *Shelf) Recall(name string) []byte {
	data, _ := s.kept.Load(name)
	kept, _ := data.([]byte)
	return kept
}

// Keep keeps data under a name; the slice must not change afterwards.
func (s *Shelf) Keep(name string, data []byte) { s.kept.Store(name, data) }
