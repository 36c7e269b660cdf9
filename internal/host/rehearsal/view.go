package rehearsal

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/sim/rehearse"
	"icehand/internal/sim/world"
)

// pageView is the page: what is asked, what is being walked, and what came of it.
type pageView struct {
	Title       string
	Fault, Hint string
	Running     *runningView
	Day         *dayView
	Table       *tableView
	Form        formView
}

// runningView is a run that is being walked.
type runningView struct {
	Title, Share string
	Percent, Bar string
}

// formView is the form with the choices as they stand.
type formView struct {
	Kinds, Ices, Aims, Ways, Others, Lengths []option
	Seed, Rods                               string
	Hidden                                   []option // how the day is looked at
}

// dayView is a day to be watched.
type dayView struct {
	Title  string
	Minute string
	Hidden []option // what the time's form carries on
	Moment momentView
	Whole  wholeView
}

// linkView is a link that changes one thing about the view.
type linkView struct {
	To, Word string
	On       bool
}

// momentView is what changes with the time of the day.
type momentView struct {
	Clock, Since string
	Steps        []linkView
	Toggles      []linkView
	Sides        []sideView
	Legend       []string
}

// sideView is one way at that time.
type sideView struct {
	ID, Way, SoFar, ByGuest string
	Picture                 picture
	Ticks                   ticks
}

// ticks is the day as a line: holes and fish as strokes, and the time that is shown.
type ticks struct{ Holes, Fish, Now, Label string }

// wholeView is what came of the whole day, a column a way.
type wholeView struct {
	Ways   []string
	Rows   []rowView
	Guests []rowView
	Time   []shareRow
}

type rowView struct {
	Head  string
	Cells []string
}

// shareRow is a part of the rod time, with a bar by way.
type shareRow struct {
	Head  string
	Cells []shareView
}

type shareView struct{ Text, Bar string }

// tableView compares ways over some days.
type tableView struct {
	Title string
	Rows  []policyView
	Notes []string
}

type policyView struct {
	Name, Meaning, Fish, Over, More string
	Chosen                          bool
	Low, Width, Mean                string // of the interval's picture, in its own units
}

func formOf(q question, l look) formView {
	return formView{
		Kinds: choose(q.Kind, kinds()...), Ices: choose(q.Ice, ices()...), Aims: choose(string(q.Aim), aims()...), Ways: choose(q.Way, ways()...),
		Others: choose(q.Other, append([]option{{Word: "none"}}, ways()...)...), Lengths: choose(strconv.Itoa(q.Days), lengths()...),
		Seed: strconv.FormatUint(q.Seed, 10), Rods: strconv.Itoa(q.Rods), Hidden: lookFields(l),
	}
}

// lookFields carries how the day is looked at through a form.
func lookFields(l look) (out []option) {
	v := question{}.values(l)
	for _, k := range []string{"truth", "view"} {
		if v.Has(k) {
			out = append(out, option{Word: k, Value: v.Get(k)})
		}
	}
	return out
}

func runningOf(x *run) *runningView {
	share := num01(float64(x.done) / float64(max(1, x.of)))
	return &runningView{Title: x.title, Percent: strconv.Itoa(int(100 * share)), Bar: strconv.Itoa(int(1000 * share)), Share: fmt.Sprintf("%.0f %% walked.", math.Floor(100*share))}
}

func num01(x float64) float64 { return math.Max(0, math.Min(1, x)) }

func dayOf(u *rehearse.Unfolded, q question, l look, units quantity.System) *dayView {
	d := &dayView{Title: fmt.Sprintf("Rehearsal: %s, %s ice", q.Kind, q.Ice), Minute: strconv.Itoa(int(l.At / time.Minute)), Moment: momentOf(u, q, l, units), Whole: wholeOf(u)}
	v := q.values(l)
	v.Del("at")
	for _, k := range []string{"kind", "ice", "seed", "rods", "aim", "way", "other", "days", "truth", "view"} {
		if v.Has(k) {
			d.Hidden = append(d.Hidden, option{Word: k, Value: v.Get(k)})
		}
	}
	return d
}

// steps are the links that move the time, in minutes; a day's length reaches either end.
var steps = []struct {
	by   time.Duration
	word string
}{{-world.Length, "Start"}, {-30 * time.Minute, "−30"}, {-5 * time.Minute, "−5"}, {5 * time.Minute, "+5"}, {30 * time.Minute, "+30"}, {world.Length, "End"}}

func momentOf(u *rehearse.Unfolded, q question, l look, units quantity.System) momentView {
	m := momentView{Clock: clock(l.At), Since: "The day begins."}
	if l.At > 0 {
		m.Since = fmt.Sprintf("%s into the day", span(l.At))
	}
	for _, s := range steps {
		to := l
		to.At = min(max(0, l.At+s.by), world.Length)
		m.Steps = append(m.Steps, linkView{To: address(Path, q.values(to)), Word: s.word})
	}
	for i, w := range u.Compared {
		f := w.Frames[frameAt(w, l.At)]
		s := sideView{ID: "side-" + strconv.Itoa(i), Way: w.Way, Picture: draw(u, w, f, l, units, i), Ticks: ticksOf(w, l.At)}
		total := 0
		var each []string
		for g, seat := range f.Guests {
			total += seat.Fish
			each = append(each, fmt.Sprintf("guest %d: %d", g+1, seat.Fish))
		}
		s.SoFar = fmt.Sprintf("%d fish, %s", total, counted(f.Holes, "hole"))
		s.ByGuest = "Fish so far, " + strings.Join(each, ", ") + "."
		m.Sides = append(m.Sides, s)
	}
	f, _ := world.FamilyByName(q.Kind) // read lets no other kind through
	m.Legend = append([]string{fmt.Sprintf("%s: %s. Seed %d, %s, aim %s.", sentenceCase(q.Kind), f.Title, q.Seed, counted(q.Rods, "guest"), wordOf(aims(), string(q.Aim)))}, legend(q, l)...)
	other := l
	other.Truth = !l.Truth
	m.Toggles = append(m.Toggles, linkView{address(Path, q.values(other)), "Truth under the ice", l.Truth})
	other = l
	other.Near = !l.Near
	m.Toggles = append(m.Toggles, linkView{address(Path, q.values(other)), "Whole lake", !l.Near})
	return m
}

// frameAt finds the frame that shows a time.
func frameAt(w rehearse.Walked, t time.Duration) int {
	at := 0
	for i, f := range w.Frames {
		if f.At <= t {
			at = i
		}
	}
	return at
}

// ticksOf draws the day's line in units of 1000 by 40.
func ticksOf(w rehearse.Walked, at time.Duration) ticks {
	x := func(t time.Duration) string { return number(1000 * float64(t) / float64(world.Length)) }
	t := ticks{Now: x(at), Label: fmt.Sprintf("Through the day: %s drilled, %d fish landed", counted(len(w.Holes), "hole"), w.Outcome.Fish)}
	var holes, fish strings.Builder
	for _, h := range w.Holes {
		fmt.Fprintf(&holes, "M%s 40v-9", x(h.Drilled))
		for _, f := range h.Fish {
			fmt.Fprintf(&fish, "M%s 26v-22", x(f))
		}
	}
	t.Holes, t.Fish = holes.String(), fish.String()
	return t
}

func wholeOf(u *rehearse.Unfolded) wholeView {
	var v wholeView
	row := func(head string, cell func(o rehearse.Outcome) string) rowView {
		r := rowView{Head: head}
		for _, w := range u.Compared {
			r.Cells = append(r.Cells, cell(w.Outcome))
		}
		return r
	}
	for _, w := range u.Compared {
		v.Ways = append(v.Ways, w.Way)
	}
	v.Rows = []rowView{
		row("Fish", func(o rehearse.Outcome) string { return fmt.Sprintf("%d, %d of good size", o.Fish, o.Good) }),
		row("First fish", func(o rehearse.Outcome) string { return firstAt(o.FirstFish...) }),
		row("First over a school", func(o rehearse.Outcome) string { return firstAt(o.FirstSchool) }),
		row("Holes", func(o rehearse.Outcome) string { return strconv.Itoa(o.Holes) }),
		row("Schools that gave fish", func(o rehearse.Outcome) string { return strconv.Itoa(o.Schools) }),
	}
	for g := range u.Compared[0].Outcome.PerGuest {
		v.Guests = append(v.Guests, row(fmt.Sprintf("Guest %d", g+1), func(o rehearse.Outcome) string {
			if o.PerGuest[g] == 0 {
				return "none"
			}
			return fmt.Sprintf("%d, first %s", o.PerGuest[g], firstAt(o.FirstFish[g]))
		}))
	}
	for _, part := range []struct {
		head string
		of   func(s rehearse.Spent) time.Duration
	}{
		{"Over feeding fish", func(s rehearse.Spent) time.Duration { return s.Feeding }},
		{"Over fish that do not feed", func(s rehearse.Spent) time.Duration { return s.Resting }},
		{"Fishing, nothing below", func(s rehearse.Spent) time.Duration { return s.Off }},
		{"Walking and setting up", func(s rehearse.Spent) time.Duration { return s.Travel }},
		{"No hole to go to", func(s rehearse.Spent) time.Duration { return s.Idle }},
	} {
		r := shareRow{Head: part.head}
		for _, w := range u.Compared {
			share := float64(part.of(w.Outcome.Spent)) / float64(max(1, w.Outcome.Spent.Total()))
			r.Cells = append(r.Cells, shareView{fmt.Sprintf("%.0f %%", 100*share), strconv.Itoa(int(math.Round(1000 * share)))})
		}
		v.Time = append(v.Time, r)
	}
	return v
}

// firstAt gives the earliest of some times; the day's length stands for never.
func firstAt(times ...time.Duration) string {
	first := world.Length
	for _, t := range times {
		first = min(first, t)
	}
	if first >= world.Length {
		return "none"
	}
	return clock(first)
}

func tableOf(r *rehearse.Report, q question) *tableView {
	s := r.Stages[0]
	t := &tableView{Title: fmt.Sprintf("%d days, lakes: %s, %s ice, from seed %d", r.Days, q.Kind, s.Stage, r.Seed)}
	most := 0.0
	for _, p := range s.Policies {
		most = math.Max(most, p.FishRange[1])
	}
	for _, p := range s.Policies {
		x := func(v float64) float64 { return 1000 * num01(v/math.Max(most, 1e-9)) }
		t.Rows = append(t.Rows, policyView{
			Name: p.Name, Meaning: meanings[p.Name], Chosen: p.Name == q.Way || p.Name == q.Other,
			Fish: fmt.Sprintf("%.2f [%.2f %.2f]", p.FishPerHour, p.FishRange[0], p.FishRange[1]), Over: p.OverSpiral.String(),
			More: fmt.Sprintf("Good fish %.2f. First fish after %.0f min. Blank on %.0f %% of days. %.0f %% of guests under three fish. %.0f holes a day.",
				p.GoodPerHour, p.FirstFish, 100*p.Blank, 100*p.FewFish, p.Holes),
			Low: number(x(p.FishRange[0])), Width: number(math.Max(2, x(p.FishRange[1])-x(p.FishRange[0]))), Mean: number(x(p.FishPerHour)),
		})
	}
	for _, f := range r.Faults {
		t.Notes = append(t.Notes, "The run finds fault with itself, more days may settle it: "+f+".")
	}
	return t
}

// counted writes a count with its noun.
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

func wordOf(options []option, value string) string {
	for _, o := range options {
		if o.Value == value {
			return o.Word
		}
	}
	return value
}

// clock writes a time of the made-up day.
func clock(t time.Duration) string {
	return time.Time{}.Add(rehearse.StartsAt + t).Format("15:04")
}

func span(t time.Duration) string {
	h, m := int(t/time.Hour), int(t%time.Hour/time.Minute)
	switch {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d h %d min", h, m)
}

// number writes a coordinate of a drawing.
func number(x float64) string { return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64) }

func sentenceCase(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// pressed marks a choice that is made.
func pressed(on bool) string { return strconv.FormatBool(on) }

// chosen lists the fields of a form with what is chosen in them.
func chosen(f formView) []option {
	out := append([]option(nil), f.Hidden...)
	for _, x := range []struct {
		key     string
		options []option
	}{{"kind", f.Kinds}, {"ice", f.Ices}, {"aim", f.Aims}, {"way", f.Ways}, {"other", f.Others}, {"days", f.Lengths}} {
		for _, o := range x.options {
			if o.Chosen {
				out = append(out, option{Word: x.key, Value: o.Value})
			}
		}
	}
	return out
}
