package advise

import (
	"fmt"
	"math"
	"time"

	"icehand/internal/base/num"
	"icehand/internal/engine/dusk"
	"icehand/internal/engine/priors"
	"icehand/internal/physics/sun"
	"icehand/internal/stats/hours"
	"icehand/internal/trade/journal"
)

// The hours at which fish bite are told by twelfths of the daylight, with one bin before sunrise and one after sunset: so
// the curve of a lake moves with the sun from December to March.
const (
	lightBins = 12
	dayBins   = lightBins + 2

	tellingHours = 12.0             // rod-hours on record from which the hours scale rates; our own choice
	tellingDays  = 3                // the same in days
	liveBites    = 30 * time.Minute // bites so fresh say more of this hour than the record does; our own choice

	spellStep = 2 * time.Minute
	spellDays = 10 // days of which the lulls are read
)

// BiteWindows is what today's bites say of short feeding windows with long lulls.
type BiteWindows struct {
	Bites  int       // bites and fish of today
	Told   bool      // false: too few to tell
	Count  int       // windows today
	From   time.Time // of the newest
	To     time.Time
	Open   bool      // it lasts
	Next   time.Time // when the next begins most likely; zero while one lasts
	Early  time.Time // the ends that hold 8 in 10
	Late   time.Time
	Record int // lulls seen that the forecast rests on, those of past days too
}

// inDay gives the place of an instant among the bins of its day; false where the sun does not rise or set, and at night.
func inDay(d sun.Day, t time.Time) (float64, bool) {
	if d.Sunrise.Passage != sun.Happens || d.Sunset.Passage != sun.Happens {
		return 0, false
	}
	// (PLAN-70) x = 1 + 12 share of the daylight gone
	x := 1 + lightBins*t.Sub(d.Sunrise.Time).Seconds()/d.Sunset.Time.Sub(d.Sunrise.Time).Seconds()
	return x, x >= 0 && x <= dayBins
}

// atBin is the inverse of inDay.
func atBin(d sun.Day, x float64) time.Time {
	share := (x - 1) / lightBins
	return d.Sunrise.Time.Add(time.Duration(share * float64(d.Sunset.Time.Sub(d.Sunrise.Time))))
}

// usualHours is the curve of a lake without a record, by bin.
func usualHours() []float64 {
	rise := time.Unix(0, 0)
	day := sun.Day{Sunrise: sun.Event{Passage: sun.Happens, Time: rise}, Sunset: sun.Event{Passage: sun.Happens, Time: rise.Add(lightBins * time.Hour)}}
	out := make([]float64, dayBins)
	for b := range out {
		out[b] = priors.Activity(day, atBin(day, float64(b)+0.5))
	}
	return out
}

// sunOn gives the sun of a day of the lake.
func (in Input) sunOn(day journal.Day) sun.Day {
	y, m, d := day.Midnight(in.Lake.Zone).Date()
	return sun.EventsOn(y, m, d, in.Lake.Frame.Origin(), in.Lake.Zone)
}

// hours learns the curve from the days before a day.
func (in Input) hours(day journal.Day) hours.Curve {
	if in.Party == nil {
		return hours.Learn(usualHours(), nil)
	}
	var days []hours.Day
	at := map[journal.Day]int{}
	suns := map[journal.Day]sun.Day{}
	midnight := day.Midnight(in.Lake.Zone)
	of := func(t time.Time) (*hours.Day, sun.Day) {
		d := journal.DayOf(t, in.Lake.Zone)
		i, ok := at[d]
		if !ok {
			i, suns[d] = len(days), in.sunOn(d)
			at[d] = i
			age := midnight.Sub(d.Midnight(in.Lake.Zone)).Hours() / 24
			days = append(days, hours.Day{Counts: hours.Counts{Events: make([]float64, dayBins), Exposure: make([]float64, dayBins)}, Age: age})
		}
		return &days[i], suns[d]
	}
	in.lines(time.Time{}, midnight, func(from, to time.Time) {
		d, s := of(from)
		for b := range dayBins {
			lo, okLo := inDay(s, from)
			hi, okHi := inDay(s, to)
			if !okLo && !okHi {
				break
			}
			if share := math.Min(hi, float64(b)+1) - math.Max(lo, float64(b)); share > 0 {
				d.Exposure[b] += atBin(s, share).Sub(atBin(s, 0)).Hours()
			}
		}
	})
	in.takes(time.Time{}, midnight, func(t time.Time, n int) {
		d, s := of(t)
		if x, ok := inDay(s, t); ok {
			d.Events[min(int(x), dayBins-1)] += float64(n)
		}
	})
	for i := range days { // a bite without a line in the water tells no rate
		for b := range dayBins {
			if days[i].Exposure[b] == 0 {
				days[i].Events[b] = 0
			}
		}
	}
	return hours.Learn(usualHours(), days)
}

// lines tells of every line in the water that was not after the second target.
func (in Input) lines(from, until time.Time, tell func(from, to time.Time)) {
	for _, s := range in.Party.Sits {
		to := s.To
		if to.IsZero() || to.After(until) {
			to = until
		}
		if to.Sub(s.From) > longestSit {
			to = s.From.Add(longestSit)
		}
		if s.From.Before(from) || !s.From.Before(to) {
			continue
		}
		for _, p := range dusk.Pieces(in.Party, s, to) {
			if in.Party.TargetAt(s, p.From) != dusk.Target {
				tell(p.From, p.To)
			}
		}
	}
}

// takes tells of every bite, and every fish but those of the second target.
func (in Input) takes(from, until time.Time, tell func(time.Time, int)) {
	for _, b := range in.Party.Bites {
		if !b.When.Before(from) && b.When.Before(until) {
			tell(b.When, 1)
		}
	}
	for _, f := range in.Party.Fish {
		if !f.When.Before(from) && f.When.Before(until) && f.Species != dusk.Target {
			tell(f.When, max(1, f.Count))
		}
	}
}

// hourTells is whether the record is long enough for its hours to scale a rate.
func (w *world) hourTells() bool {
	return w.hours.Days >= tellingDays && w.hours.Exposure >= tellingHours
}

// hourFactor gives how well fish bite at an instant against the day's mean: 1 when the record does not tell.
func (w *world) hourFactor(t time.Time) hours.Factor {
	if x, ok := inDay(w.sun, t); ok && w.hourTells() {
		return w.hours.At(x)
	}
	return hours.Factor{Mean: 1, Low: 1, High: 1}
}

// byHour scales a rate by the hour; the spreads, taken for independent, add as squares of logarithms.
func (r Rate) byHour(f hours.Factor) Rate {
	if f.Mean == 1 && f.Low == 1 && f.High == 1 || !(r.Mean > 0) {
		return r
	}
	out := Rate{Mean: r.Mean * f.Mean}
	side := func(end, by float64) float64 { return math.Hypot(math.Log(end/r.Mean), math.Log(by/f.Mean)) }
	// (PLAN-71) rate × factor, ln(high/mean)² = the sum of both, and so for low
	out.High = out.Mean * math.Exp(side(math.Max(r.High, r.Mean), f.High))
	if r.Low > 0 {
		out.Low = out.Mean * math.Exp(-side(math.Min(r.Low, r.Mean), f.Low))
	}
	return out
}

// rateByHour scales the rates shown of the rods. The filter knows no hour, and what it chose stays; both sides of a
// comparison take the same factor, so no verdict turns. Nothing is scaled while bites tell of this very hour.
func (w *world) rateByHour(s *Step) {
	for i := len(w.today) - 1; i >= 0; i-- {
		e := w.today[i]
		if (e.order == thenBite || e.order == thenFish) && w.in.Now.Sub(e.when) < liveBites {
			return
		}
	}
	f := w.hourFactor(w.in.Now)
	for i := range s.Rods {
		s.Rods[i].Here, s.Rods[i].There = s.Rods[i].Here.byHour(f), s.Rods[i].There.byHour(f)
	}
}

// meanHour gives the factor over a stretch of the day.
func (w *world) meanHour(from, to time.Time) hours.Factor {
	var sum hours.Factor
	n := 0.0
	for t := from; t.Before(to); t = t.Add(15 * time.Minute) {
		f := w.hourFactor(t)
		sum = hours.Factor{Mean: sum.Mean + f.Mean, Low: sum.Low + f.Low, High: sum.High + f.High}
		n++
	}
	if n == 0 {
		return hours.Factor{Mean: 1, Low: 1, High: 1}
	}
	return hours.Factor{Mean: sum.Mean / n, Low: sum.Low / n, High: sum.High / n}
}

// activity gives how active perch are at an instant against their mean: by the lake's own hours, which begin at the usual
// ones; at night, and where there is no day, by the usual ones alone.
func (w *world) activityAt(t time.Time) float64 {
	if x, ok := inDay(w.sun, t); ok {
		return w.hours.At(x).Mean
	}
	return priors.Activity(w.sun, t)
}

// hourReason tells at which hours they bite best here, from the record; else that this is the busier part of a usual day.
func (w *world) hourReason() (Reason, bool) {
	x, light := inDay(w.sun, w.in.Now)
	if from, to, ok := w.hours.Best(); ok && light && w.hourTells() {
		r := Reason{Code: "best_hours", Weight: 0.05, Rate: w.hourFactor(w.in.Now).Mean, Prior: ByRecord, Count: w.hours.Days, Of: int(math.Round(w.hours.Exposure))}
		if x >= float64(from) && x < float64(to) {
			r.Weight = 0.15
		}
		clock := func(b int) string {
			return atBin(w.sun, float64(b)).In(w.in.Lake.Zone).Round(5 * time.Minute).Format("15:04")
		}
		r.Text = fmt.Sprintf("they bite best here between %s and %s, from %d rod-hours on %d days on record", clock(from), clock(to), r.Of, r.Count)
		return r, true
	}
	const busier = 1.2
	if a := priors.Activity(w.sun, w.in.Now); light && a > busier {
		part := "mid-morning"
		if x > dayBins/2 {
			part = "mid-afternoon"
		}
		return Reason{Code: "diel", Weight: 0.1, Rate: a, Prior: ByHour, Text: part + ", the busier part of a usual day"}, true
	}
	return Reason{}, false
}

// spells puts a stretch of a day into steps: bites and the minutes of lines.
func (in Input) spells(from, until time.Time) (c hours.Counts, start time.Time, bites int) {
	start = until
	in.lines(from, until, func(a, _ time.Time) {
		if a.Before(start) {
			start = a
		}
	})
	n := int(math.Ceil(float64(until.Sub(start)) / float64(spellStep)))
	c = hours.Counts{Events: make([]float64, n), Exposure: make([]float64, n)}
	in.lines(from, until, func(a, b time.Time) {
		for i := int(a.Sub(start) / spellStep); i < n; i++ {
			lo, hi := start.Add(time.Duration(i)*spellStep), start.Add(time.Duration(i+1)*spellStep)
			if !lo.Before(b) {
				break
			}
			c.Exposure[i] += num.Clamp(earlier(hi, b).Sub(later(lo, a)).Minutes(), 0, spellStep.Minutes())
		}
	})
	in.takes(from, until, func(t time.Time, k int) {
		bites += k
		if i := int(t.Sub(start) / spellStep); !t.Before(start) && i < n && c.Exposure[i] > 0 {
			c.Events[i] += float64(k)
		}
	})
	return c, start, bites
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// lulls gives the lulls in minutes between the windows of a day.
func lulls(f hours.Found) []float64 {
	var out []float64
	for i := 1; f.Told && i < len(f.Spans); i++ {
		out = append(out, float64(f.Spans[i].From-f.Spans[i-1].To)*spellStep.Minutes())
	}
	return out
}

// pastLulls gives the lulls of the last days on record.
func (in Input) pastLulls(day journal.Day) []float64 {
	if in.Party == nil {
		return nil
	}
	var out []float64
	last := journal.Day("")
	days := 0
	midnight := day.Midnight(in.Lake.Zone)
	for i := len(in.Party.Sits) - 1; i >= 0 && days < spellDays; i-- {
		d := journal.DayOf(in.Party.Sits[i].From, in.Lake.Zone)
		if d == last || d >= day {
			continue
		}
		last, days = d, days+1
		from := d.Midnight(in.Lake.Zone)
		c, _, _ := in.spells(from, earlier(from.Add(24*time.Hour), midnight))
		out = append(out, lulls(hours.UsualSpells.Find(c, spellStep.Minutes()))...)
	}
	return out
}

// biteWindows tells of today's feeding windows, and when the next one is likely.
func (w *world) biteWindows() BiteWindows {
	if w.in.Party == nil {
		return BiteWindows{}
	}
	c, start, bites := w.in.spells(w.day.Midnight(w.in.Lake.Zone), w.in.Now)
	out := BiteWindows{Bites: bites}
	f := hours.UsualSpells.Find(c, spellStep.Minutes())
	if !f.Told {
		return out
	}
	last := f.Spans[len(f.Spans)-1]
	out.Told, out.Count = true, len(f.Spans)
	out.From, out.To = start.Add(time.Duration(last.From)*spellStep), earlier(start.Add(time.Duration(last.To)*spellStep), w.in.Now)
	if out.Open = last.To == len(c.Events); out.Open {
		return out
	}
	seen := append(lulls(f), w.lulls...)
	out.Record = len(seen)
	low, middle, high := hours.UsualSpells.Next(seen, w.in.Now.Sub(out.To).Minutes())
	out.Next, out.Early, out.Late = w.in.Now.Add(minutes(middle)), w.in.Now.Add(minutes(low)), w.in.Now.Add(minutes(high))
	return out
}

// windowReason says when the next feeding window is likely, as something that would change the step.
func (w *world) windowReason(b BiteWindows) (Reason, bool) {
	if !b.Told {
		return Reason{}, false
	}
	clock := func(t time.Time) string { return t.In(w.in.Lake.Zone).Format("15:04") }
	r := Reason{Code: "window", Weight: 0.2, Count: b.Count, Of: b.Bites, Age: w.in.Now.Sub(b.To)}
	r.Text = fmt.Sprintf("a feeding window since %s", clock(b.From))
	if !b.Open {
		r.Text = fmt.Sprintf("the last feeding window was %s to %s; the next is likely about %s, anywhere from %s to %s",
			clock(b.From), clock(b.To), clock(b.Next), clock(b.Early), clock(b.Late))
	}
	return r, true
}
