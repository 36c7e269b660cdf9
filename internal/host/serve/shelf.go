package serve

import (
	"context"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"sync"

	"icehand/internal/host/phone"
)

// Shelf holds what the server worked out from the record, so that phones need not: a depth surface that takes a second
// here takes a phone a minute. Its names are digests of what went in, so that a phone takes what fits its record.
// Give its Recall and Keep to the desk.
type Shelf struct {
	recall func(string) []byte // beneath; nil: nothing is
	keep   func(string, []byte)

	mu    sync.Mutex
	names []string // newest last
	held  map[string][]byte
}

// mostShelved are held in memory, the newest; a record needs four at a time.
const mostShelved = 8

// NewShelf makes a shelf on top of another one, which may be nil.
func NewShelf(recall func(string) []byte, keep func(string, []byte)) *Shelf {
	return &Shelf{recall: recall, keep: keep, held: map[string][]byte{}}
}

// Recall gives what was kept under a name, or nil.
func (s *Shelf) Recall(name string) []byte {
	s.mu.Lock()
	b := s.held[name]
	s.mu.Unlock()
	if b == nil && s.recall != nil {
		if b = s.recall(name); b != nil {
			s.hold(name, b)
		}
	}
	return b
}

// Keep holds what was worked out.
func (s *Shelf) Keep(name string, data []byte) {
	s.hold(name, data)
	if s.keep != nil {
		s.keep(name, data)
	}
}

func (s *Shelf) hold(name string, data []byte) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.names = append(slices.DeleteFunc(s.names, func(n string) bool { return n == name }), name)
	s.held[name] = data
	for len(s.names) > mostShelved {
		delete(s.held, s.names[0])
		s.names = s.names[1:]
	}
}

// mountShelf lets phones with a key take what is on the shelf.
func (o Options) mountShelf(mux *http.ServeMux) {
	if o.Shelf == nil || o.Keys == nil {
		return
	}
	guarded := func(next http.HandlerFunc) http.HandlerFunc {
		return func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Cache-Control", "no-store")
			key, _ := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
			if _, err := o.Keys.Phone(r.Context(), key); err != nil {
				http.Error(w, "This server does not know this phone.", http.StatusUnauthorized)
				return
			}
			next(w, r)
		}
	}
	mux.HandleFunc("GET "+phone.ShelfPath, guarded(func(w http.ResponseWriter, r *http.Request) {
		o.work(r.Context())
		o.Shelf.mu.Lock()
		names := slices.Clone(o.Shelf.names)
		o.Shelf.mu.Unlock()
		w.Header().Set("Content-Type", "application/json")
		_ = json.NewEncoder(w).Encode(names) // a phone that hung up asks again
	}))
	mux.HandleFunc("GET "+phone.ShelfPath+"/{name}", guarded(func(w http.ResponseWriter, r *http.Request) {
		b := o.Shelf.Recall(r.PathValue("name"))
		if b == nil {
			http.Error(w, "That is not on the shelf any more.", http.StatusNotFound)
			return
		}
		w.Header().Set("Content-Type", "application/octet-stream")
		_, _ = w.Write(b) // as above
	}))
}

// work lets the desk work out what a phone will need first: the turn-back time and the next step. What cannot be answered
// is not needed.
func (o Options) work(ctx context.Context) {
	_, _ = o.Desk.TurnBack(ctx)
	_, _ = o.Desk.Next(ctx, nil)
}
