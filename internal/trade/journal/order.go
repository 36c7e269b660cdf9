package journal

import (
	"slices"
	"sort"
	"time"
)

// InsertByTime keeps a slice in order of time; what has the same time stays in order of folding.
func InsertByTime[T any](s []T, x T, when func(T) time.Time) []T {
	t := when(x)
	i := len(s)
	if i > 0 && when(s[i-1]).After(t) { // new facts are nearly always the latest
		i = sort.Search(i, func(k int) bool { return when(s[k]).After(t) })
	}
	return slices.Insert(s, i, x)
}
