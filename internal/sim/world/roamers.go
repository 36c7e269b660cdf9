package world

import "math"

// roamers: few big schools that graze beds of food and swim straight from one to the next, choosing by worth and way.
// A grazed school may rest on its bed; a bed that was just left is not chosen again.
type roamers struct{}

func (roamers) settle(l *Lake, d *dice) {
	for range 18 {
		l.places = append(l.places, place{
			x: d.between(100, WidthM-100), y: d.between(100, HeightM-100), long: d.between(80, 180), lasting: d.normal(),
		})
	}
}

func (roamers) draw(d *Day, s *school) {
	s.home = int16(s.dice.pick(d.cumulated))
	d.about(s, int(s.home), 0.6)
	s.wide = d.radius(s) / math.Sqrt(d.Lake.Family.long)
	s.long = s.wide * d.Lake.Family.long
	s.head = s.dice.between(0, 2*math.Pi)
	s.begin(resting, 0, s.dice.between(0, 40))
	if s.dice.unit() < 0.4 { // on the way already
		s.x, s.y = s.dice.between(0, WidthM), s.dice.between(0, HeightM)
		roam(d, s, 0)
	}
}

// roam sends a school to another bed.
func roam(d *Day, s *school, minute int) {
	p := d.Lake.places
	best, to := -1.0, s.home
	for range 5 { // a few beds come to mind; near and rich ones win
		i := s.dice.pick(d.cumulated)
		if int16(i) == s.home {
			continue
		}
		if score := s.dice.unit() * math.Exp(-math.Hypot(p[i].x-s.x, p[i].y-s.y)/500); score > best {
			best, to = score, int16(i)
		}
	}
	s.home = to
	s.tox, s.toy = p[to].x+0.5*p[to].long*s.dice.normal(), p[to].y+0.5*p[to].long*s.dice.normal()
	speed := s.dice.between(2.5, 7)
	s.toward(s.tox, s.toy, speed)
	s.begin(travelling, minute, math.Hypot(s.tox-s.x, s.toy-s.y)/speed)
}

func (roamers) step(d *Day, s *school, minute int) {
	if minute >= int(s.until) {
		switch {
		case s.phase == travelling && s.dice.unit() < d.appetite(minute)*math.Exp(-s.taken/d.wary(s)):
			s.begin(feeding, minute, s.dice.between(15, 45))
			s.course(s.head+0.5*s.dice.normal(), s.dice.between(0.6, 2.2))
		case s.phase == resting || s.phase == feeding && s.dice.unit() < 0.5:
			roam(d, s, minute)
		default:
			s.begin(resting, minute, s.dice.between(15, 50))
			s.stop()
		}
	}
	if s.phase == travelling {
		if turn := s.dice.normal(); math.Abs(turn) > 1.8 { // never quite straight
			s.toward(s.tox+30*turn, s.toy-20*turn, math.Hypot(s.dx, s.dy))
		}
	}
	if s.dx != 0 || s.dy != 0 {
		s.swim(minute)
	}
}
