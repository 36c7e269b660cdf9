package advise

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/priors"
	"icehand/internal/trade/journal"
)

// sit writes a sit with what it brought.
func (d *diary) sit(hole uuid.UUID, rod int64, from, to time.Time) {
	id := d.write(from, &journal.SitStart{Hole: hole, Rod: rod})
	if !to.IsZero() {
		d.write(to, &journal.SitEnd{Sit: id})
	}
}

// afternoons writes days on which two rods stand from 08:00 to 15:30 and bites come mostly between 13:00 and 15:00, the
// contrary of the usual day.
func afternoons(t testing.TB, days int) *diary {
	d := newDiary(t)
	rng := num.NewStream(8, "afternoons")
	for day := 1; day <= days; day++ {
		start := d.at(day, "08:00")
		h := d.look(start, geo.Local{E: 40 * float64(day)}, "few")
		d.sit(h, 1, start, d.at(day, "15:30"))
		d.sit(h, 2, start, d.at(day, "15:30"))
		for m := range 450 {
			rate := 0.008
			if m >= 300 && m < 420 {
				rate = 0.06
			}
			if rng.Float64() < rate {
				d.fish(start.Add(time.Duration(m)*time.Minute), h, 1)
			}
		}
	}
	return d
}

// The hours of a lake are learned: there is no noon in the code. Rates shown take them, the choice does not.
func TestHoursAreLearned(t *testing.T) {
	d := afternoons(t, 14)
	h := d.look(d.at(15, "08:55"), geo.Local{E: 20}, "few")
	d.sit(h, 1, d.at(15, "09:00"), time.Time{})
	rate := func(clock string) (Rate, []Reason, float64) {
		in := d.input(d.at(15, clock), geo.Local{E: 20})
		s := mustNext(t, in)
		w, err := in.look(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		plain := w.filter.Rate(geo.Local{E: 20}, 1)
		return s.Rods[0].Here, append(s.Why, s.Rods[0].Why...), s.Rods[0].Here.Mean / plain.Mean
	}
	_, why, morning := rate("10:00")
	r, _, noon := rate("14:00")
	if !(morning < 1 && noon > 1.3) || r.Low > r.Mean || r.High < r.Mean {
		t.Errorf("shown over believed rate: %.2f at ten, %.2f at two; %+v", morning, noon, r)
	}
	found := false
	for _, x := range why {
		if x.Code == "best_hours" {
			found = true
			if !strings.Contains(x.Text, "from 210 rod-hours on 14 days") || x.Prior != ByRecord {
				t.Errorf("%+v", x)
			}
			t.Log(x.Text)
		}
	}
	if !found {
		t.Errorf("no hours among the reasons: %+v", why)
	}
	in := d.input(d.at(15, "14:00"), geo.Local{E: 20})
	w, err := in.look(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	from, to, ok := w.hours.Best()
	if a, b := atBin(w.sun, float64(from)), atBin(w.sun, float64(to)); !ok || a.Before(d.at(15, "12:00")) || a.After(d.at(15, "13:45")) || b.Before(d.at(15, "14:15")) {
		t.Errorf("best from %v to %v", a, b)
	}
	// bites within the half hour tell of this hour themselves
	d.fish(d.at(15, "13:50"), h, 1)
	if _, _, factor := rate("14:00"); !num.Close(factor, 1, 1e-3) {
		t.Errorf("with a fish ten minutes ago the rate is scaled by %.3f", factor)
	}
}

// Without a record nothing is scaled and no hours are told of.
func TestHoursNeedARecord(t *testing.T) {
	d := newDiary(t)
	h := d.look(d.at(15, "08:55"), geo.Local{E: 20}, "few")
	d.sit(h, 1, d.at(15, "09:00"), time.Time{})
	in := d.input(d.at(15, "10:00"), geo.Local{E: 20})
	s := mustNext(t, in)
	w, err := in.look(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if got, want := s.Rods[0].Here.Mean, w.filter.Rate(geo.Local{E: 20}, 1).Mean; !num.Close(got, want, 1e-6) || hasCode(s.Why, "best_hours") {
		t.Errorf("shown %.4f, believed %.4f, %+v", got, want, s.Why)
	}
	if !hasCode(s.Rods[0].Why, "diel") {
		t.Errorf("mid-morning is not named: %+v", s.Rods[0].Why)
	}
	if s.Windows.Told || s.Windows.Bites != 0 {
		t.Errorf("%+v", s.Windows)
	}
}

// Two feeding windows of a day are found, and the next is told with its spread; a few scattered bites tell nothing.
func TestFeedingWindows(t *testing.T) {
	d := newDiary(t)
	h := d.look(d.at(15, "08:00"), geo.Local{E: 20}, "few")
	for rod := range 4 {
		d.sit(h, int64(rod+1), d.at(15, "08:05"), time.Time{})
	}
	burst := func(clock string) {
		for i := range 10 {
			d.fish(d.at(15, clock).Add(time.Duration(i)*90*time.Second), h, 1)
		}
	}
	burst("09:00")
	burst("11:10")
	s := mustNext(t, d.input(d.at(15, "12:00"), geo.Local{E: 20}))
	b := s.Windows
	near := func(t time.Time, want string) bool { return math.Abs(t.Sub(d.at(15, want)).Minutes()) <= 6 }
	if !b.Told || b.Count != 2 || b.Open || !near(b.From, "11:10") || !near(b.To, "11:25") || b.Bites != 20 || b.Record != 1 {
		t.Fatalf("%+v", b)
	}
	if !(b.Early.Before(b.Next) && b.Next.Before(b.Late) && b.Early.After(s.At)) || b.Next.Before(d.at(15, "12:30")) || b.Next.After(d.at(15, "14:00")) {
		t.Errorf("next %v, %v to %v", b.Next, b.Early, b.Late)
	}
	if !hasCode(s.Changes, "window") {
		t.Errorf("%+v", s.Changes)
	}
	few := newDiary(t)
	h = few.look(few.at(15, "08:00"), geo.Local{E: 20}, "few")
	few.sit(h, 1, few.at(15, "08:05"), time.Time{})
	few.fish(few.at(15, "09:00"), h, 1)
	few.fish(few.at(15, "10:10"), h, 1)
	if s := mustNext(t, few.input(few.at(15, "12:00"), geo.Local{E: 20})); s.Windows.Told || s.Windows.Bites != 2 {
		t.Errorf("two bites: %+v", s.Windows)
	}
}

// tell writes the guide's depths.
func (d *diary) tell(when time.Time, stage priors.Stage, low, high quantity.Length) {
	v, err := Depths{Low: low, High: high}.Value("m")
	if err != nil {
		d.t.Fatal(err)
	}
	d.write(when, &journal.Setting{Key: DepthsSetting(stage), Value: v})
}

// The depths that the guide tells move the odds to them, are named as his, are taken back by nothing told, and are undone
// by looks. The test lake is 12.5 m deep in the middle and shoals to its banks.
func TestToldDepths(t *testing.T) {
	deep, shoal := geo.Local{}, geo.Local{E: 2640}
	ratio := func(d *diary) (float64, []Reason) {
		in := d.input(d.at(15, "10:00"), geo.Local{})
		a, b := mustHere(t, in, deep), mustHere(t, in, shoal)
		_, why, err := Here(context.Background(), in, shoal)
		if err != nil {
			t.Fatal(err)
		}
		return b.P / a.P, why
	}
	d := newDiary(t)
	before, _ := ratio(d)
	d.tell(d.at(14, "20:00"), "", 11*quantity.Metre, 13*quantity.Metre)
	d.tell(d.at(14, "20:01"), priors.Mid, 4*quantity.Metre, 6*quantity.Metre)
	told, why := ratio(d)
	if !(told > 3*before && told > 1) {
		t.Errorf("odds at 5 m over those at 12.5 m: %.3f, told %.3f", before, told)
	}
	named := false
	for _, r := range why {
		if r.Code == "told_depth" && r.Prior == BySketch && r.Band == [2]quantity.Length{4, 6} {
			named = true
		}
	}
	if !named {
		t.Errorf("the guide's depths are not named: %+v", why)
	}
	// only a belief: looks that show marks in the deep and none in the shallows turn it round
	for day := 2; day < 14; day++ {
		for i := range 14 {
			p, marks := shoal.Add(geo.Local{N: float64(i*60 - 400), E: float64(day%3)*20 - 20}), "none"
			if i%2 == 0 {
				p, marks = deep.Add(geo.Local{N: float64(i*60 - 400), E: float64(day*50 - 400)}), "many"
			}
			d.look(d.at(day, "09:00").Add(time.Duration(i)*20*time.Minute), p, marks)
		}
	}
	if undone, _ := ratio(d); undone > 0.5 {
		t.Errorf("after %d looks the shallows still stand at %.3f of the deep", 12*14, undone)
	}
	back := newDiary(t)
	back.tell(back.at(14, "20:01"), priors.Mid, 4*quantity.Metre, 6*quantity.Metre)
	back.tell(back.at(14, "20:05"), priors.Mid, 0, 0)
	if again, _ := ratio(back); !num.Close(again, before, 1e-12) {
		t.Errorf("taken back: %.6f, before %.6f", again, before)
	}
	other := newDiary(t)
	other.tell(other.at(14, "20:01"), priors.Late, 4*quantity.Metre, 6*quantity.Metre)
	if same, _ := ratio(other); !num.Close(same, before, 1e-12) {
		t.Errorf("another stage's depths: %.6f, before %.6f", same, before)
	}
}

// Past days are weighed by what is believed of their own stage: blanks at a depth where fish were expected then lower the
// odds there more than blanks where none were, whatever is expected now.
func TestPastDaysAreWeighedByTheirOwnStage(t *testing.T) {
	shoal := geo.Local{E: 2640} // 5 m deep
	odds := func(low, high quantity.Length) float64 {
		d := newDiary(t)
		d.write(d.at(1, "07:10"), &journal.Lake{Name: "Lake Tamaringen", Origin: *journal.PointOf(d.frame.Origin()), Zone: d.zone.String(), FreezeUp: "2025-12-18"}) // early to 11 January, then mid
		d.tell(d.at(1, "07:30"), priors.Early, low, high)
		d.tell(d.at(1, "07:31"), priors.Mid, 4*quantity.Metre, 6*quantity.Metre)
		for day := 2; day < 9; day++ {
			for i := range 14 {
				d.look(d.at(day, "09:00").Add(time.Duration(i)*20*time.Minute), shoal.Add(geo.Local{N: float64(i*60 - 400)}), "none")
			}
		}
		return mustHere(t, d.input(d.at(15, "10:00"), geo.Local{}), shoal).P
	}
	expected, elsewhere := odds(4*quantity.Metre, 6*quantity.Metre), odds(11*quantity.Metre, 13*quantity.Metre)
	if expected > 0.8*elsewhere {
		t.Errorf("odds at 5 m after blanks there: %.4f where fish were expected, %.4f where none were", expected, elsewhere)
	}
}

// Speed and size of schools come from the record once it tells enough, and are named; before that they are the stage's.
func TestHabitsFromTheRecord(t *testing.T) {
	ask := func(d *diary) *world {
		w, err := d.input(d.at(15, "10:00"), geo.Local{}).look(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		return w
	}
	d := newDiary(t)
	w := ask(d)
	if w.habits.SpeedTold || w.habits.SizeTold || w.season != priors.Of(priors.Mid) || len(w.habits.reasons()) != 0 {
		t.Errorf("nothing on record: %+v", w.habits)
	}
	// schools that stay: marks again at the same hole after ten minutes, and one rod takes twenty fish, ever more slowly
	for day := 1; day <= 12; day++ {
		for k := range 5 {
			p := geo.Local{E: 200 * float64(k), N: 70 * float64(day)}
			at := d.at(day, "08:00").Add(time.Duration(k) * 80 * time.Minute)
			h := d.look(at, p, "many")
			d.write(at.Add(10*time.Minute), &journal.Look{Hole: h, Seconds: 30, Marks: "many"})
			d.write(at.Add(50*time.Minute), &journal.Look{Hole: h, Seconds: 30, Marks: "many"})
			if k == 0 {
				d.sit(h, 1, at.Add(10*time.Minute), at.Add(75*time.Minute))
				for n := range 20 {
					d.fish(at.Add(11*time.Minute+time.Duration(float64(40*time.Minute)*math.Pow(float64(n)/20, 1.6))), h, 1)
				}
			}
		}
	}
	w = ask(d)
	usual := priors.Of(priors.Mid)
	if !w.habits.SpeedTold || w.season.Speed >= usual.Speed || w.habits.SpeedFrom < 60 {
		t.Errorf("speed %+v, in use %v, usual %v", w.habits.Speed, w.season.Speed, usual.Speed)
	}
	if !w.habits.SizeTold || w.season.SchoolSize >= 60 || w.season.SchoolSize < 20 || w.habits.SizeFrom != 240 {
		t.Errorf("size %+v by %d fish, in use %.1f", w.habits.Size, w.habits.SizeFrom, w.season.SchoolSize)
	}
	for _, r := range w.habits.reasons() {
		t.Log(r.Text)
	}
	if len(w.habits.reasons()) != 2 {
		t.Errorf("%+v", w.habits.reasons())
	}
}
