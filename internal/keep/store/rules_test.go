package store

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"icehand/internal/trade/journal"
)

// FuzzWellformed: an entry passes exactly when it is the same after it was written as a line and read back.
func FuzzWellformed(f *testing.F) {
	f.Add("2026-01-15", "Etc/GMT+3", "look", []byte(`{"a":1}`), uint64(1), int64(-1), byte(1), byte(1))
	for _, odd := range []string{"", "\xff", "a\x00b", "\u2028<&>\"\\", "é", strings.Repeat("x", 300)} {
		f.Add("2026-01-15", odd, "k"+odd, []byte(`{"a":"`+odd+`"}`), uint64(1<<63), int64(1)<<62, byte(1), byte(1))
		f.Add(odd, "UTC", odd, []byte(odd), uint64(0), int64(0), byte(0), byte(1))
	}
	f.Add("2026-02-30", "UTC", "look", []byte("{}\n"), uint64(2), int64(1), byte(1), byte(0))
	f.Add("2026-01-15", "UTC", "look", []byte(`{"a":1,"a":{}} `), uint64(2), int64(1), byte(1), byte(1))
	f.Fuzz(func(t *testing.T, day, zone, kind string, body []byte, n uint64, at int64, id, j byte) {
		e := journal.Move(journal.Head{Journal: uuid.UUID{j}, N: n - 1}, &journal.Entry{
			ID: uuid.UUID{id}, HLC: journal.HLC(n), Day: journal.Day(day), Zone: zone, Kind: journal.Kind(kind), At: at, Wall: at, Mono: -at, Version: int(at), Body: body,
		})
		if e.Body == nil {
			e.Body = []byte{}
		}
		same := false
		if line, err := journal.AppendLine(nil, &e); err == nil {
			back, err := journal.ParseLine(line)
			same = err == nil && cmp.Equal(back, e) && plainFields(&e) == nil
		}
		if err := Wellformed(&e); (err == nil) != same {
			t.Errorf("%+v: %v, and after a line it is the same: %t", e, err, same)
		}
	})
}
