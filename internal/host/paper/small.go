package paper

import (
	"strconv"

	"icehand/internal/trade/journal"
)

// lineWords are the kinds of lines of the books.
var lineWords = []string{"cost", "income", "deposit", "refund", "distance", "gear"}

func itoa(n int) string { return strconv.Itoa(n) }

func newID() string { return journal.NewID().String() }

func pressed(yes bool) string { return strconv.FormatBool(yes) }
