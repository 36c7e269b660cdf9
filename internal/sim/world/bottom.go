package world

import "math"

// bottom: groups lie belly to the mud in hollows, hardly seen, and bite in windows of ten to twenty minutes with a lull
// of about two hours. The groups of one part of the lake wake together, most of them, and hardly leave their hollow.
type bottom struct{}

const parts = 6 // of the lake that wake together

func (bottom) settle(l *Lake, d *dice) {
	for range parts {
		l.regions = append(l.regions, [2]float64{d.between(150, WidthM-150), d.between(150, HeightM-150)})
	}
	for range 42 {
		r := int(d.between(0, parts))
		p := place{long: d.between(25, 60), lasting: d.normal(), region: r}
		for range 30 {
			p.x, p.y = l.regions[r][0]+230*d.normal(), l.regions[r][1]+230*d.normal()
			if p.x > 20 && p.x < WidthM-20 && p.y > 20 && p.y < HeightM-20 {
				break
			}
		}
		p.x, p.y = math.Max(20, math.Min(WidthM-20, p.x)), math.Max(20, math.Min(HeightM-20, p.y))
		l.places = append(l.places, p)
	}
}

func (bottom) draw(d *Day, s *school) {
	s.home = int16(s.dice.pick(d.cumulated))
	d.about(s, int(s.home), 1)
	if s.dice.unit() < 0.25 { // strays lie anywhere
		s.x, s.y = s.dice.between(0, WidthM), s.dice.between(0, HeightM)
	}
	s.tox, s.toy = s.x, s.y
	s.wide = d.radius(s)
	s.long = s.wide * d.Lake.Family.long
	s.head = s.dice.between(0, 2*math.Pi)
	s.begin(resting, 0, minutes+1)
}

func (bottom) step(d *Day, s *school, minute int) {
	switch {
	case s.phase == resting:
		window := d.windows[d.Lake.places[s.home].region][minute]
		if window > 0 && s.dice.unit() < 0.75*math.Exp(-s.taken/d.wary(s)) {
			s.begin(feeding, minute, float64(window)*s.dice.between(0.7, 1.2))
			s.toward(s.tox+12*s.dice.normal(), s.toy+12*s.dice.normal(), s.dice.between(0.3, 1.5))
		}
	case s.phase == feeding && minute >= int(s.until):
		s.begin(travelling, minute, s.dice.between(3, 7))
		s.toward(s.tox, s.toy, 3)
	case s.phase == travelling && minute >= int(s.until):
		s.begin(resting, minute, minutes+1)
		s.stop()
	}
	if s.dx != 0 || s.dy != 0 {
		s.swim(minute)
	}
}
