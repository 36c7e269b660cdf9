package rehearse

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
)

func (r *Ratio) String() string {
	if r == nil {
		return "-"
	}
	if r.High > 999 { // a draw of days on which the rival caught nothing
		return fmt.Sprintf("%.2f [%.2f -]", r.Value, r.Low)
	}
	return fmt.Sprintf("%.2f [%.2f %.2f]", r.Value, r.Low, r.High)
}

// Table writes the report for people.
func (r *Report) Table(out io.Writer) error {
	fmt.Fprintf(out, "Rehearsal on made-up lakes: %d days a stage from seed %d, %d guests, aim %s. No figure is a catch forecast.\n", r.Days, r.Seed, r.Rods, r.Aim)
	for _, s := range r.Stages {
		fmt.Fprintf(out, "\n%s ice\n", strings.ToUpper(s.Stage[:1])+s.Stage[1:])
		w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "way\tfish/rod-h [95 %]\tgood\tover rule\tover spiral\tgood over spiral\tof clairvoyant\tfirst fish min\tblank %\tguests <3 %\tholes\tschools\ttravel/off/resting/feeding/idle %")
		for _, p := range s.Policies {
			fmt.Fprintf(w, "%s\t%.2f [%.2f %.2f]\t%.2f\t%v\t%v\t%v\t%v\t%.0f\t%.1f\t%.1f\t%.0f\t%.1f\t%.0f/%.0f/%.0f/%.0f/%.1f\n", p.Name, p.FishPerHour, p.FishRange[0], p.FishRange[1], p.GoodPerHour,
				p.OverRule, p.OverSpiral, p.GoodSpiral, p.OfSeer, p.FirstFish, 100*p.Blank, 100*p.FewFish, p.Holes, p.Schools,
				100*p.Rod.Travel, 100*p.Rod.Off, 100*p.Rod.Resting, 100*p.Rod.Feeding, 100*p.Rod.Idle)
		}
		if err := w.Flush(); err != nil {
			return err
		}
		if len(s.Policies) == 0 || len(s.Policies[0].Families) < 2 {
			continue
		}
		w = tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
		fmt.Fprint(w, "fish/rod-h, over spiral")
		for _, f := range s.Policies[0].Families {
			fmt.Fprintf(w, "\t%s", f.Name)
		}
		fmt.Fprintln(w)
		for _, p := range s.Policies {
			fmt.Fprint(w, p.Name)
			for _, f := range p.Families {
				fmt.Fprintf(w, "\t%.2f, %v", f.FishPerHour, f.OverSpiral)
			}
			fmt.Fprintln(w)
		}
		if err := w.Flush(); err != nil {
			return err
		}
	}
	for _, f := range r.Faults {
		fmt.Fprintln(out, "FAULT", f)
	}
	return nil
}

// Details writes what finding and working came to, which explains the table.
func (r *Report) Details(out io.Writer) error {
	for _, s := range r.Stages {
		fmt.Fprintf(out, "\n%s ice: schools met and worked, a day\n", strings.ToUpper(s.Stage[:1])+s.Stage[1:])
		w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "way\tunder a sonar\tmet feeding\tby the scout %\tworked %\tfish each met\tfish each worked\trods at once\tmin until a rod\tfish by rod-h over feeding")
		for _, p := range s.Policies {
			if p.Name == "bound" {
				continue
			}
			f := p.Finding
			fmt.Fprintf(w, "%s\t%.1f\t%.1f\t%.0f\t%.0f\t%.2f\t%.2f\t%.2f\t%.1f\t%.0f\n", p.Name, f.Met, f.MetFeeding, 100*f.ByScout, 100*f.Worked, f.FishEach, f.FishWorked, f.Rods, f.UntilRod, f.FishByHour)
		}
		fmt.Fprint(w, "met feeding, fish each met")
		for _, f := range s.Policies[0].Families {
			fmt.Fprintf(w, "\t%s", f.Name)
		}
		fmt.Fprintln(w)
		for _, p := range s.Policies {
			if p.Name == "bound" {
				continue
			}
			fmt.Fprint(w, p.Name)
			for _, f := range p.Families {
				fmt.Fprintf(w, "\t%.1f, %.1f", f.Finding.MetFeeding, f.Finding.FishEach)
			}
			fmt.Fprintln(w)
		}
		if err := w.Flush(); err != nil {
			return err
		}
	}
	return nil
}

// Table writes the season report for people.
func (r *SeasonReport) Table(out io.Writer) error {
	fmt.Fprintf(out, "Seasons on %d made-up lakes from seed %d, %d days a winter, %d guests. No figure is a catch forecast.\n", r.Lakes, r.Seed, r.Days, r.Rods)
	for winter := range r.Winters {
		fmt.Fprintf(out, "\nWinter %d\n", winter+1)
		w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "way\tdays\tfish/rod-h\tgood\tover remembering\tgood over remembering\tshare of map's gain")
		for _, p := range r.Ways {
			x := p.Winters[winter]
			for _, s := range append([]Stretch{x.All}, x.Parts...) {
				fmt.Fprintf(w, "%s\t%d-%d\t%.2f\t%.2f\t%v\t%v\t%v\n", p.Name, s.From, s.To, s.FishPerHour, s.GoodPerHour, s.OverRemembering, s.GoodRemembering, s.ShareOfMap)
			}
		}
		if err := w.Flush(); err != nil {
			return err
		}
	}
	return nil
}
