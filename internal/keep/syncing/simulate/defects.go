package simulate

import "strings"

// Defect is a known mistake of systems like this one, planted on purpose: the simulator must notice it, or it is blind.
// docs/sync.md says where each was seen. They are planted around the real client, server and stores, in what they are
// given and what they give; the code under test has no switches.
type Defect uint32

// The defects.
const (
	AckByNumber       Defect = 1 << iota // the phone believes a number without its hash
	DuplicateByNumber                    // the server passes over a number that it holds, whatever the content
	StoreByNumber                        // the phone's store does the same
	CursorSkips                          // the server moves the cursor past entries that are not visible yet
	ClearedEarly                         // the phone counts entries as ashore before the reply
	CounterApart                         // the phone keeps the next number apart from the entries
	SameEpoch                            // a restore keeps the epoch
	EpochCounter                         // the epoch is a counter that comes back with the backup
	SameJournal                          // a restored server goes on in its old journal
	NeverTurns                           // a phone that was set back goes on in its old journal
	OnlyOwn                              // entries of others are not offered to a restored server
	ClockDrags                           // a clock far ahead is merged into the others
	RefusesAhead                         // the server refuses entries whose clock is ahead
	RefusesUnknown                       // the server refuses entries of a kind that it does not know
	NewIDOnRetry                         // a repeated act gets another id
	CursorFirst                          // the cursor is remembered before the entries are stored
	SavedEarly                           // an act is shown as saved before it is durable
	NamesLater                           // entries travel ahead of the texts that they name
	defects           = iota
)

var defectNames = [...]string{"ack by number", "duplicate by number", "store by number", "cursor skips", "cleared early", "counter apart", "same epoch", "epoch counter",
	"same journal", "never turns", "only own", "clock drags", "refuses ahead", "refuses unknown", "new id on retry", "cursor first", "saved early", "names later"}

// All gives every defect.
func All() []Defect {
	out := make([]Defect, defects)
	for i := range out {
		out[i] = 1 << i
	}
	return out
}

// Has tells whether a defect is among some.
func (d Defect) Has(one Defect) bool { return d&one != 0 }

func (d Defect) String() string {
	var out []string
	for i, one := range All() {
		if d.Has(one) {
			out = append(out, defectNames[i])
		}
	}
	if out == nil {
		return "none"
	}
	return strings.Join(out, " + ")
}
