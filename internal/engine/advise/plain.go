package advise

import (
	"icehand/internal/base/geo"
	"icehand/internal/engine/plan"
	"icehand/internal/trade/lake"
)

const (
	plainAfter = 40   // looks today before the model may be judged
	plainLoss  = -1.0 // natural log units behind a constant rate at which the plain way takes over
)

// score says how the forecasts of today's looks have fared.
func (w *world) score() Score {
	t := w.filter.Tally()
	s := Score{Looks: t.N, Marks: t.Yes, Gain: t.Gain(), Needed: plainAfter, Verdict: NoBetter}
	if t.N > 0 {
		s.Brier = t.Brier / float64(t.N)
	}
	switch {
	case t.N < plainAfter:
		s.Verdict = TooEarly
	case s.Gain < plainLoss:
		s.Verdict = Worse
	case s.Gain > -plainLoss:
		s.Verdict = Better
	}
	return s
}

// plain tells whether line and spiral should answer: nothing to go on, or the model trails a constant rate.
func (w *world) plain() bool {
	if w.score().Verdict == Worse {
		return true
	}
	p, _ := w.scout()
	return w.evidence.Looks == 0 && w.evidence.Fish == 0 && len(w.in.Lake.Sketches) == 0 && !w.in.Surface.At(p).Known
}

// poorDepth tells whether a place is known to be far off the depths that perch keep: a line is bent before it goes there.
func (w *world) poorDepth(p geo.Local) bool {
	d := w.in.Surface.At(p)
	return d.Known && w.season.DepthPreference(d.Mean, d.Spread, true) < 0.5
}

// byLine answers by line and spiral; false when it finds no place that may be advised.
func (w *world) byLine(from geo.Local, v *vetting, s *Step) bool {
	var looks []plan.Looked
	for _, e := range w.today {
		switch b := e.body.(type) {
		case plan.Look:
			looks = append(looks, plan.Looked{At: b.At, When: b.When, Hit: b.Marks != lake.None})
		case plan.Fish:
			looks = append(looks, plan.Looked{At: b.At, When: b.When, Hit: true})
		}
	}
	line := plan.LineAndSpiral{Bearing: w.lineBearing(from, looks)}
	var chosen plan.Candidate
	key := int64(0)
	p, spiral, ok := line.Next(from, looks, func(p geo.Local) bool {
		if !w.in.Surface.OnWater(p) || w.poorDepth(p) || v.late+v.left+len(v.barred) > s.Budget/2 {
			return false
		}
		key--
		walk := float64(from.Distance(p))
		chosen = plan.Candidate{At: p, Key: key, WalkM: walk,
			Minutes: (w.walk(lengthOf(walk)) + plan.DrillTime(w.ice()) + w.options.LookLength).Minutes()}
		return v.allowed(chosen)
	})
	if !ok {
		return false
	}
	chosen.Odds = w.filter.Odds(p, w.options.LookLength)
	w.take(s, chosen, nil, v)
	s.Plain = true
	r := Reason{Code: "line", Weight: 1, Text: "little to go on yet: the line goes on"}
	if s.Score.Verdict == Worse {
		r.Text = "the odds did worse than a constant rate today: the line goes on"
	}
	if spiral {
		r = Reason{Code: "spiral", Weight: 1, Text: "marks near: holes in a spiral round them"}
	}
	s.Why = append([]Reason{r}, s.Why...)
	return true
}
