package rehearsal

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/sim/rehearse"
	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// question says which day is asked for, and by which ways.
type question struct {
	Kind  string // of lake
	Ice   string // time of the winter
	Seed  uint64
	Rods  int
	Aim   way.Aim
	Way   string
	Other string // "" for one way alone
	Days  int    // for the table
}

// look says how a day is looked at.
type look struct {
	At    time.Duration // since the day's start, on a frame
	Truth bool          // what is under the ice is drawn
	Near  bool          // only the ground where the party went
}

// day gives the question without what the day itself does not depend on.
func (q question) day() question {
	q.Days = 0
	return q
}

func (q question) ways() []string {
	if q.Other == "" {
		return []string{q.Way}
	}
	return []string{q.Way, q.Other}
}

func (q question) stage() rehearse.Stage {
	all := rehearse.Stages()
	return all[slices.IndexFunc(all, func(s rehearse.Stage) bool { return s.Name == q.Ice })]
}

func (q question) watch(progress func(done, of int)) rehearse.Watch {
	return rehearse.Watch{Family: q.Kind, Stage: q.stage(), Seed: q.Seed, Rods: q.Rods, Aim: q.Aim, Ways: q.ways(), Progress: progress}
}

func (q question) title() string {
	return fmt.Sprintf("One day by %s; lake: %s, %s ice, seed %d", strings.Join(q.ways(), " and "), q.Kind, q.Ice, q.Seed)
}

// table says which ways are compared on which days. The two plain rules always stand beside the ways that were chosen.
type table struct {
	question // its ways are empty
	Ways     string
}

// rivals are in every table: the trade's rule, and the honest rival.
var rivals = []string{"rule", "spiral-rule"}

func (q question) table() table {
	ways := append(slices.Clone(rivals), q.ways()...)
	var names []string // in the order of tables
	for _, name := range rehearse.Names() {
		if slices.Contains(ways, name) {
			names = append(names, name)
		}
	}
	q.Way, q.Other = "", ""
	return table{q, strings.Join(names, " ")}
}

func (t table) options(progress func(done, of int)) rehearse.Options {
	return rehearse.Options{Days: t.Days, Seed: t.Seed, Stages: []rehearse.Stage{t.stage()}, Families: []string{t.Kind}, Ways: strings.Fields(t.Ways),
		Rods: t.Rods, Aim: t.Aim, Progress: progress}
}

func (t table) title() string {
	return fmt.Sprintf("%d days by %s; lakes: %s, %s ice, from seed %d", t.Days, strings.Join(strings.Fields(t.Ways), ", "), t.Kind, t.Ice, t.Seed)
}

// option is one choice of a form.
type option struct {
	Value, Word string
	Chosen      bool
}

func choose(value string, options ...option) []option {
	for i := range options {
		options[i].Chosen = options[i].Value == value
	}
	return options
}

func kinds() (out []option) {
	for _, f := range world.Families() {
		out = append(out, option{Value: f.Name, Word: f.Name + ": " + f.Title})
	}
	return out
}

func ices() (out []option) {
	for _, s := range rehearse.Stages() {
		out = append(out, option{Value: s.Name, Word: s.Name + " ice"})
	}
	return out
}

func aims() []option {
	return []option{{Value: string(way.Numbers), Word: "numbers"}, {Value: string(way.Size), Word: "good-sized fish"}}
}

func lengths() []option {
	return []option{{Value: "12", Word: "12 days"}, {Value: "24", Word: "24 days"}, {Value: "48", Word: "48 days"}}
}

// meanings says what each way does, in a line.
var meanings = map[string]string{
	"rule":          "a hole every 50 ft, 15 minutes each",
	"tuned-rule":    "the same, 30 m and 5 minutes",
	"spiral-rule":   "line and spiral",
	"random":        "holes anywhere in the band of depth",
	"notes-planner": "the first planner that was described",
	"engine":        "this program's own odds and choice",
	"engine-wrong":  "the same, with wrong beliefs",
	"true-map":      "the engine, told where fish mostly are",
	"clairvoyant":   "sees every school, walks like anybody",
}

func ways() (out []option) {
	for _, name := range rehearse.Watchable() {
		word := name
		if m := meanings[name]; m != "" {
			word += ": " + m
		}
		out = append(out, option{Value: name, Word: word})
	}
	return out
}

// Bounds of what may be asked, and what is asked when nothing is.
const (
	mostRods  = 12
	mostSeed  = 1<<32 - 1
	firstSeed = 1
)

// usual is asked when nothing is.
var usual = question{Kind: "contour", Ice: "mid", Seed: firstSeed, Rods: 4, Aim: way.Numbers, Way: "engine", Other: "spiral-rule", Days: 24}

// read takes a question from a form or an address. What is missing is as usual; what cannot be read is a fault that
// names the field, and leaves it as usual.
func read(form url.Values) (question, look, error) {
	q := usual
	var faults []string
	pick := func(key, field string, to *string, options []option) {
		text, given := form.Get(key), form.Has(key)
		if !given {
			return
		}
		if slices.ContainsFunc(options, func(o option) bool { return o.Value == text }) {
			*to = text
			return
		}
		var may []string
		for _, o := range options {
			may = append(may, o.Value)
		}
		faults = append(faults, fmt.Sprintf("%s: %q is not among %s", field, short(text), strings.Trim(strings.Join(may, ", "), ", ")))
	}
	count := func(key, field string, least, most uint64) (uint64, bool) {
		text := strings.TrimSpace(form.Get(key))
		if !form.Has(key) {
			return 0, false
		}
		n, err := strconv.ParseUint(text, 10, 64)
		if err != nil || n < least || n > most {
			faults = append(faults, fmt.Sprintf("%s: %q is no whole number from %d to %d", field, short(text), least, most))
			return 0, false
		}
		return n, true
	}
	aim, days := string(q.Aim), strconv.Itoa(q.Days)
	pick("kind", "Kind of lake", &q.Kind, kinds())
	pick("ice", "Time of winter", &q.Ice, ices())
	pick("aim", "Aim", &aim, aims())
	pick("way", "Way", &q.Way, ways())
	pick("other", "Second way", &q.Other, append(ways(), option{}))
	pick("days", "Days", &days, lengths())
	q.Aim = way.Aim(aim)
	q.Days, _ = strconv.Atoi(days) // one of the three lengths
	if n, ok := count("seed", "Seed", 0, mostSeed); ok {
		q.Seed = n
	}
	if n, ok := count("rods", "Guests", 1, mostRods); ok {
		q.Rods = int(n)
	}
	if q.Other == q.Way {
		q.Other = ""
	}
	l := look{Truth: form.Get("truth") == "yes", Near: form.Get("view") != "lake"}
	if n, ok := count("at", "Minute of the day", 0, uint64(world.Length/time.Minute)); ok {
		l.At = (time.Duration(n) * time.Minute).Truncate(rehearse.Every)
	}
	if len(faults) > 0 {
		return q, l, fault.New(fault.BadInput, "Mend it below: what could not be read is as usual there.", "%s", strings.Join(faults, "; "))
	}
	return q, l, nil
}

// short keeps what was typed to a length that can be shown.
func short(s string) string {
	if r := []rune(s); len(r) > 24 {
		return string(r[:24]) + "..."
	}
	return s
}

// values writes the question and how it is looked at for an address.
func (q question) values(l look) url.Values {
	v := url.Values{"kind": {q.Kind}, "ice": {q.Ice}, "seed": {strconv.FormatUint(q.Seed, 10)}, "rods": {strconv.Itoa(q.Rods)}, "aim": {string(q.Aim)},
		"way": {q.Way}, "other": {q.Other}, "days": {strconv.Itoa(q.Days)}, "at": {strconv.Itoa(int(l.At / time.Minute))}, "view": {"near"}}
	if l.Truth {
		v.Set("truth", "yes")
	}
	if !l.Near {
		v.Set("view", "lake")
	}
	return v
}
