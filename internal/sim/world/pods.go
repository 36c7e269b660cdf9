package world

import "math"

// pods: each pod keeps to a spot of its own on one of some twenty patches; one in five keeps to no patch. It rests,
// shifts about its spot, feeds, and rests again, each pod by its own clock.
type pods struct{}

func (pods) settle(l *Lake, d *dice) {
	for range 20 + int(d.between(0, 8)) {
		a := d.between(0, math.Pi)
		l.places = append(l.places, place{
			x: d.between(80, WidthM-80), y: d.between(80, HeightM-80), long: d.between(70, 190), wide: d.between(50, 110),
			cos: math.Cos(a), sin: math.Sin(a), lasting: d.normal(),
		})
	}
}

func (pods) draw(d *Day, s *school) {
	for range 40 {
		if s.dice.unit() < 0.2 {
			s.x, s.y = s.dice.between(0, WidthM), s.dice.between(0, HeightM)
		} else {
			d.about(s, s.dice.pick(d.cumulated), 1)
		}
		off := (at(d.Lake.depth, s.x, s.y) - d.depthM) / 3
		if s.dice.unit() < math.Exp(-off*off/2) {
			break
		}
	}
	s.tox, s.toy = s.x, s.y
	s.long = d.radius(s)
	s.wide = s.long
	s.begin(resting, 0, s.dice.between(0, 50))
	if s.dice.unit() < 0.3 {
		s.begin(feeding, 0, s.dice.between(1, 25))
	}
}

func (pods) step(d *Day, s *school, minute int) {
	if minute >= int(s.until) {
		switch {
		case s.phase == resting:
			s.begin(travelling, minute, s.dice.between(5, 12))
			s.toward(s.tox+45*s.dice.normal(), s.toy+45*s.dice.normal(), s.dice.between(4, 11))
		case s.phase == travelling && s.dice.unit() < d.appetite(minute)*math.Exp(-s.taken/d.wary(s)):
			s.begin(feeding, minute, s.dice.between(14, 36))
			s.course(s.dice.between(0, 2*math.Pi), s.dice.between(0.5, 2.5))
		default:
			s.begin(resting, minute, s.dice.between(15, 60))
			s.stop()
		}
	}
	if s.dx != 0 || s.dy != 0 {
		s.swim(minute)
	}
}
