package track

import "time"

// Outlook tells what may be expected of a target over the next minutes: for each phase and quality that it may be in
// now, the events within 1, 2, ... steps of two minutes.
type Outlook [20]Phases

const outlookStep = 2 * time.Minute

// NewOutlook tables the events expected when they come at so many a minute by phase and quality.
func NewOutlook(r Rates, perMinute Phases) *Outlook {
	var o Outlook
	for p := range phases {
		for q := range Qualities {
			var b Phases
			b[p][q] = 1
			sum := 0.0
			for h := range o {
				mean, _ := b.Moments(perMinute)
				// (PLAN-59) events = sum over steps of the chain's rate
				sum += mean * outlookStep.Minutes()
				o[h][p][q] = sum
				b.Step(r, outlookStep)
			}
		}
	}
	return &o
}

// Within gives the events expected within a time, at most forty minutes.
func (o *Outlook) Within(b *Phases, t time.Duration) float64 {
	h := min(max(int(t/outlookStep), 1), len(o)) - 1
	mean, _ := b.Moments(o[h])
	return mean
}

// BestRate gives the most events a minute that any stay of a given least length promises.
func (o *Outlook) BestRate(b *Phases, least time.Duration) float64 {
	best := 0.0
	for h := max(int(least/outlookStep), 1) - 1; h < len(o); h++ {
		mean, _ := b.Moments(o[h])
		best = max(best, mean/(outlookStep.Minutes()*float64(h+1)))
	}
	return best
}
