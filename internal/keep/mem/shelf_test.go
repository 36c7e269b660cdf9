package mem

import "testing"

// What is kept under a name comes back under it alone, and the newest of two.
func TestShelf(t *testing.T) {
	var s Shelf
	if got := s.Recall("a"); got != nil {
		t.Errorf("an empty shelf gives %q", got)
	}
	s.Keep("a", []byte("one"))
	s.Keep("a", []byte("two"))
	if got := s.Recall("a"); string(got) != "two" {
		t.Errorf("kept two, got %q", got)
	}
	if got := s.Recall("b"); got != nil {
		t.Errorf("the other name gives %q", got)
	}
}
