package rehearse

import (
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/sim/world"
)

// Unfolded is one day of one way, minute by minute, to be watched.
type Unfolded struct {
	Family  string  `json:"family"`
	Way     string  `json:"way"`
	Outcome Outcome `json:"outcome"`
	Frames  []Frame `json:"frames"`
}

// Frame is one moment.
type Frame struct {
	Minute  int           `json:"minute"`
	Scout   [2]float64    `json:"scout"` // m east and north
	Guests  [][2]float64  `json:"guests"`
	Fish    []int         `json:"fish"` // by guest so far
	Holes   int           `json:"holes"`
	Schools []FrameSchool `json:"schools"` // the truth, which no way saw
}

// FrameSchool is a school in a picture.
type FrameSchool struct {
	At      [2]float64 `json:"at"`
	RadiusM float64    `json:"radius_m"`
	Feeding bool       `json:"feeding"`
}

// Unfold walks one way through one day and keeps a frame every so often, with the truth under the ice.
func Unfold(family, name string, stage Stage, seed uint64, rods int, every time.Duration) (*Unfolded, error) {
	o := Options{Days: 1, Seed: seed, Families: []string{family}, Ways: []string{name}, Rods: rods}
	if err := o.settle(); err != nil {
		return nil, err
	}
	if name == "bound" {
		return nil, fault.New(fault.BadInput, "Choose a way that a party walks.", "the bound walks no day")
	}
	f, _ := world.FamilyByName(family)
	d := world.NewLake(f, seed, 0).Day(stage.Season, 0)
	run := d.Run()
	out := &Unfolded{Family: family, Way: name}
	w := find(name).make(setting{d, run, newSurfaces(), o.Budget})
	p := newParty(d, run, w, Brief(d, o.Rods, o.Aim, seed*1000, 0))
	next := time.Duration(0)
	p.watch = func(t time.Duration, p *party) {
		if t < next {
			return
		}
		next = t.Truncate(every) + every
		fr := Frame{Minute: int(t.Minutes()), Scout: [2]float64{p.view.Scout.E, p.view.Scout.N}, Holes: len(p.view.Holes)}
		for i, g := range p.view.Guests {
			fr.Guests = append(fr.Guests, [2]float64{g.At.E, g.At.N})
			fr.Fish = append(fr.Fish, p.out.PerGuest[i])
		}
		for _, s := range run.Schools(t) {
			fr.Schools = append(fr.Schools, FrameSchool{[2]float64{s.At.E, s.At.N}, s.RadiusM, s.Feeding})
		}
		out.Frames = append(out.Frames, fr)
	}
	p.pass()
	out.Outcome = p.out
	return out, p.err
}
