package journal

// Move seals the content of an entry onto another head: the same act, clock, times and body in another journal. It keeps
// the hybrid clock, so that the entry stays where it stood among those of other journals.
func Move(head Head, e *Entry) Entry {
	c := *e
	c.Journal, c.N, c.Prev = head.Journal, head.N+1, head.Hash
	c.Hash = c.digest()
	return c
}
