package rules

import (
	"fmt"
	"slices"
)

// contradictions names the pairs of lines that cannot both hold.
func (b *Book) contradictions() (out []Problem) {
	for i, x := range b.Rules {
		for _, y := range b.Rules[i+1:] {
			why := twice(x, y)
			if why == "" {
				why = clash(x, y)
			}
			if why == "" {
				why = clash(y, x)
			}
			if why != "" {
				out = append(out, Problem{[]int{x.Line, y.Line}, why, "Look into the source text and keep what it says."})
			}
		}
	}
	return out
}

// twice finds one thing told on two lines.
func twice(x, y Rule) string {
	if x.Kind != y.Kind || x.Place != y.Place || !slices.Equal(x.Of, y.Of) {
		return ""
	}
	if x.Kind == Zone && x.Choice != y.Choice {
		return "" // a zone may be closed in two ways
	}
	if x.Text == y.Text {
		return fmt.Sprintf("%s is told twice", x)
	}
	return fmt.Sprintf("%s, and %s", x, y)
}

// same tells whether two rules speak of the same species and no others.
func same(x, y Rule) bool { return slices.Equal(x.Of, y.Of) }

// within tells whether all that x speaks of is counted in y as well.
func within(x, y Rule) bool {
	return len(x.Of) > 0 && !slices.ContainsFunc(x.Of, func(s string) bool { return !slices.Contains(y.Of, s) })
}

// clash says why two rules cannot both hold; "" when they can. It is asked for both orders. Long because it is the table of all pairs.
func clash(x, y Rule) string {
	both := func(why string) string { return fmt.Sprintf("%s, and %s: %s", x, y, why) }
	switch {
	case x.Kind == Daily && y.Kind == Possession && same(x, y) && x.Count > y.Count:
		return both("a day's limit cannot be more than what may be held")
	case x.Kind == Daily && y.Kind == Yearly && same(x, y) && x.Count > y.Count:
		return both("a day's limit cannot be more than the season's")
	case (x.Kind == Daily || x.Kind == Possession) && x.Kind == y.Kind && !same(x, y) && within(x, y) && x.Count > y.Count:
		return both("one part cannot be more than all together")
	case (x.Kind == Daily || x.Kind == Possession) && x.Count > 0 && y.Kind == Release && same(x, y):
		return both("what always goes back has no limit to keep")
	case (x.Kind == Daily || x.Kind == Possession) && x.Count > 0 && y.Kind == Season && y.Closed && (len(y.Of) == 0 || within(x, y)):
		return both("what is closed has no limit to keep")
	case x.Kind == Season && x.Closed && len(x.Of) == 0 && y.Kind == Season && !y.Closed:
		return both("everything is closed, and this is not")
	case x.Kind == Over && y.Kind == Daily && same(x, y) && x.Count > y.Count:
		return both("more large ones than fish in all")
	}
	if len(x.Of) == 1 && same(x, y) {
		if why := clashSize(x, y); why != "" {
			return both("") + why
		}
	}
	switch {
	case x.Kind == Pooling && x.Choice == 0 && y.Kind == Carried && y.Text == "party's fish":
		return both("nobody may keep for another, and each may carry another's")
	case x.Kind == ShelterOff && y.Kind == ShelterEnd && monthsApart(y.From, x.From):
		return both("shelters are gone before they must come off daily")
	case x.Kind == Hours && len(x.Of) == 0 && y.Kind == Hours && len(y.Of) > 0 && x.Opens.Sun == y.Opens.Sun && x.Closes.Sun == y.Closes.Sun &&
		(y.Opens.Minutes < x.Opens.Minutes || y.Closes.Minutes > x.Closes.Minutes):
		return both("the hours of one species reach beyond those of all fishing")
	}
	return ""
}

// clashSize says why two rules on sizes of one species cannot both hold.
func clashSize(x, y Rule) string {
	switch {
	case x.Kind == Least && y.Kind == Most && x.Low >= y.Low:
		return "no fish is long enough and short enough"
	case x.Kind == Least && y.Kind == KeepOnly && x.Low >= y.High, x.Kind == Most && y.Kind == KeepOnly && x.Low <= y.Low:
		return "no fish of that range may be kept"
	case x.Kind == PutBack && y.Kind == KeepOnly && x.Low <= y.Low && x.High >= y.High:
		return "all that may be kept goes back"
	case x.Kind == Over && y.Kind == Most && x.Low >= y.Low, x.Kind == Over && y.Kind == KeepOnly && x.Low >= y.High:
		return "none so large may be kept at all"
	case x.Kind == Over && x.Count == 0 && y.Kind == Least && y.Low >= x.Low:
		return "no fish is long enough and short enough"
	case x.Kind == Release && (y.Kind == Least || y.Kind == Most || y.Kind == KeepOnly || y.Kind == PutBack || y.Kind == Over || y.Kind == Tag):
		return "what always goes back has no size to be kept"
	}
	return ""
}

// monthsApart tells whether a day lies before another in the same ice season, which runs from August to July.
func monthsApart(a, b MonthDay) bool {
	turn := func(d MonthDay) MonthDay {
		d.Month = (d.Month + 4) % 12 // August is 0
		return d
	}
	return turn(a).before(turn(b))
}
