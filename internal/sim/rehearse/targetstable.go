package rehearse

import (
	"fmt"
	"io"
	"text/tabwriter"
)

// Table writes the targets for people, and all that they were read from.
func (t *Targets) Table(out io.Writer) error {
	fmt.Fprintf(out, "Targets on made-up lakes: %d days a stage, %d lakes for seasons of %d days in %d winters, seed %d, %d guests. No figure is a catch forecast.\n", t.Days, t.Lakes, t.SeasonDays, t.Winters, t.Seed, t.Rods)
	fmt.Fprintln(out, "Ranges are 95 %, paired by day, for seasons by lake. There: what the earlier design reached on the lakes it was made on; here: what it reaches on these;")
	fmt.Fprintln(out, "factor: here over there, by which the scaled target is the target.")
	fmt.Fprintln(out)
	if err := t.rows(out); err != nil {
		return err
	}
	t.count(out)
	for _, c := range t.Calibrations {
		if err := c.table(out); err != nil {
			return err
		}
	}
	if err := t.lockInTable(out); err != nil {
		return err
	}
	for _, r := range []struct {
		title  string
		report *Report
	}{{"Single days", t.Compared}, {"Aim size", t.Size}, {"Flat ground", t.Flat}} {
		if r.report == nil {
			continue
		}
		fmt.Fprintf(out, "\n== %s\n", r.title)
		if err := r.report.Table(out); err != nil {
			return err
		}
		if err := r.report.Details(out); err != nil {
			return err
		}
	}
	if t.Season != nil {
		fmt.Fprintln(out, "\n== Seasons")
		return t.Season.Table(out)
	}
	return nil
}

// limits says what a figure is held against.
func limits(least, low, most *float64) string {
	switch {
	case least != nil && most != nil:
		return fmt.Sprintf("%.3f to %.3f", *least, *most)
	case most != nil:
		return fmt.Sprintf("at most %.3f", *most)
	case least != nil && low != nil:
		return fmt.Sprintf("at least %.2f, low %.2f", *least, *low)
	case least != nil:
		return fmt.Sprintf("at least %.2f", *least)
	}
	return "-"
}

// rangeOf prints shares with a third digit: a blank day in 300 counts.
func rangeOf(r *Ratio) string {
	if r != nil && r.High <= 1 {
		return fmt.Sprintf("%.3f [%.3f %.3f]", r.Value, r.Low, r.High)
	}
	return r.String()
}

func (t *Targets) rows(out io.Writer) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "target\twhere\tgot [95 %]\tmust be\tverdict\tearlier design there, here\tfactor\tscaled must be\tscaled verdict\tnote")
	last := ""
	for _, r := range t.Rows {
		name := r.Name
		if name == last {
			name = ""
		}
		last = r.Name
		there, factor, scaled, verdict := "", "", "", ""
		if p := r.Prototype; p != nil {
			there, factor, scaled, verdict = fmt.Sprintf("%.3g, %s", p.There, rangeOf(p.Here)), fmt.Sprintf("%.2f", p.Factor), limits(p.Least, p.LowLeast, nil), string(r.Scaled)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", name, r.Where, rangeOf(r.Got), limits(r.Least, r.LowLeast, r.Most), r.Verdict, there, factor, scaled, verdict, r.Note)
	}
	return w.Flush()
}

// count sums up the verdicts.
func (t *Targets) count(out io.Writer) {
	n, scaled := map[Verdict]int{}, map[Verdict]int{}
	for _, r := range t.Rows {
		n[r.Verdict]++
		v := r.Scaled
		if r.Prototype == nil {
			v = r.Verdict
		}
		scaled[v]++
	}
	fmt.Fprintf(out, "\n%d reached, %d missed, %d not told; with targets scaled where they can be: %d, %d, %d.\n", n[Reached], n[Missed], n[NotTold], scaled[Reached], scaled[Missed], scaled[NotTold])
	fmt.Fprintln(out, "Speed is not in this table: see the benchmarks.")
}

func (c Calibration) table(out io.Writer) error {
	fmt.Fprintf(out, "\nOdds told and seen: %s, %d looks\n", c.Of, c.Looks)
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "odds\tlooks\ttold\tseen [95 %]")
	for _, s := range append(append([]Share{}, c.Tenths...), c.Words...) {
		name := s.Name
		if name == "" {
			name = "-"
		}
		fmt.Fprintf(w, "%.1f to %.1f %s\t%d\t%.3f\t%s\n", s.From, s.To, name, s.Looks, s.Told, rangeOf(s.Seen))
	}
	return w.Flush()
}

func (t *Targets) lockInTable(out io.Writer) error {
	if len(t.LockIn) == 0 {
		return nil
	}
	fmt.Fprintf(out, "\nLock-in test: worth of the ground of the holes over the lake's mean, from a poor start, on the first day and after %d days\n", lockInDays)
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "way\tlake\tfirst day\tafter")
	for _, l := range t.LockIn {
		fmt.Fprintf(w, "%s\t%s %d\t%.2f\t%.2f\n", l.Way, l.Family, l.Lake, l.First, l.After)
	}
	return w.Flush()
}
