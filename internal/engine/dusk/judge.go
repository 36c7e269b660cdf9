package dusk

import (
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
)

// deepRelease is the depth from which agencies say to keep what is landed and to stop at the limit [NDGF2019].
const deepRelease = 9 * quantity.Metre

// hopeless is the chance of paying below which even a record too thin to tell speaks for perch; our own choice.
const hopeless = 0.1

// judge gives the verdict, its reasons and what would change it.
func (w *weighing) judge(a *Answer, found bool) {
	best := a.Best
	switch {
	case best == nil:
		w.without(a, found)
	case w.thin() && len(a.Windows) == 0:
		a.Verdict = NoLight
	case w.thin() && best.Pays >= hopeless:
		a.Verdict = Thin
	case best.Pays >= pays:
		a.Verdict = Switch
	case best.Pays >= paysNot:
		a.Verdict = TossUp
	default:
		a.Verdict = Perches
	}
	if best != nil {
		a.Why = append(a.Why, w.why(a)...)
	}
	if len(a.Why) == 0 {
		a.Why = []Reason{{Code: string(a.Verdict), Weight: 1}}
	}
	w.changes(a)
}

// thin tells whether the record is too thin to tell.
func (w *weighing) thin() bool {
	aimed, _, fish := w.Belief.Told()
	return aimed < fewHours && fish < fewFish
}

// without gives the verdict when there is no plan.
func (w *weighing) without(a *Answer, found bool) {
	a.Verdict = Barred
	switch {
	case found && len(a.Refused) > 0:
		a.Why = []Reason{{Code: a.Refused[0].Code, Weight: 1, Text: a.Refused[0].Text}}
	case !w.Law.From.IsZero() || !w.Law.To.IsZero():
		a.refuse(Bar{Refusals: []safety.Refusal{{Code: "law_hours", Text: "The legal hours for walleye leave no time before the turn-back time."}}})
		a.Why = []Reason{{Code: "law_hours", Weight: 1, Text: a.Refused[0].Text}}
	default:
		a.refuse(Bar{Refusals: []safety.Refusal{{Code: "turn_back", Text: "No time for it before the turn-back time."}}})
		a.Why = []Reason{{Code: "turn_back", Weight: 1, Text: a.Refused[0].Text}}
	}
}

// why gives the reasons for a plan.
func (w *weighing) why(a *Answer) []Reason {
	var out []Reason
	best := a.Best
	middle := best.Begin.Add(best.End.Sub(best.Begin) / 2)
	g, p := sky(middle, w.Place, w.Cloud), w.Cover.pane(best.Place.Depth)
	out = append(out, Reason{Code: "light", Weight: 0.6, Rate: w.inBand(g, p), Depth: best.Place.Depth.middle(), Lux: [2]quantity.Illuminance{lux(g.low + p.dim), lux(g.high + p.bright)}})
	if w.thin() {
		out = append(out, Reason{Code: "thin", Weight: 0.9, Count: a.Record.Fish, Rate: a.Record.Hours})
	} else {
		out = append(out, Reason{Code: "walleye_record", Weight: 0.5, Count: a.Record.Fish, Rate: a.Record.Hours})
	}
	switch {
	case best.Place.Fish > 0:
		out = append(out, Reason{Code: "walleye_spot", Weight: 0.55, Count: best.Place.Fish})
	case best.Place.Form == Hump || best.Place.Form == Break:
		out = append(out, Reason{Code: string(best.Place.Form), Weight: 0.45, Depth: best.Place.Relief})
	}
	if best.Place.OnWay && best.Place.Form != Here {
		out = append(out, Reason{Code: "on_way", Weight: 0.3, Depth: best.Place.Off})
	}
	if best.Place.Known && best.Place.Depth.middle() >= deepRelease {
		out = append(out, Reason{Code: "deep_release", Weight: 0.4, Depth: best.Place.Depth.middle()})
	}
	if !w.Law.Signed {
		out = append(out, Reason{Code: "law_unverified", Weight: 0.35})
	}
	sortReasons(out)
	return out
}

func (r Range) middle() quantity.Length { return quantity.Length((r[0].Metres() + r[1].Metres()) / 2) }

// inBand gives the chance that the light is in the band.
func (w *weighing) inBand(g glow, p pane) float64 {
	sum := 0.0
	for i, x := range w.Belief.lots() {
		if inBand(atFish(g, p, i)) {
			sum += x
		}
	}
	return sum
}

// changes says what would change the answer.
func (w *weighing) changes(a *Answer) {
	add := func(r Reason) { a.Changes = append(a.Changes, r) }
	if a.Best != nil && a.Best.BreakEven >= 0.1 && a.Verdict != Thin && a.Verdict != NoLight {
		add(Reason{Code: "break_even", Weight: 0.6, Rate: a.Best.BreakEven})
	}
	if !w.Cover.SnowTold {
		add(Reason{Code: "snow_not_told", Weight: 0.5})
	}
	if !w.Cover.ClearTold {
		add(Reason{Code: "clarity_not_told", Weight: 0.4})
	}
	if a.Verdict == Thin {
		add(Reason{Code: "thin_next", Weight: 0.6, Rate: fewHours, Count: fewFish})
	}
	const nearing = 15 * time.Minute
	if a.Best != nil && a.Best.TurnBack.Sub(a.Best.End) < nearing {
		add(Reason{Code: "turn_back_moves", Weight: 0.3})
	}
	sortReasons(a.Changes)
}

func sortReasons(list []Reason) {
	for i := 1; i < len(list); i++ {
		for j := i; j > 0 && list[j].Weight > list[j-1].Weight; j-- {
			list[j], list[j-1] = list[j-1], list[j]
		}
	}
}
