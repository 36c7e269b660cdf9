package world

import "math"

// contour: each school keeps to a depth of its own, a little less at the ends of the day, and follows it along the
// slope. It stops to rest and to feed only at stations, which are stretches of bottom with food.
type contour struct{}

func (contour) settle(l *Lake, d *dice) {
	for range 34 {
		l.places = append(l.places, place{
			x: d.between(0, WidthM), y: d.between(0, HeightM), long: d.between(50, 130), lasting: d.normal(),
		})
	}
}

func (contour) draw(d *Day, s *school) {
	s.depthM = d.depthM + 0.8*s.dice.normal()
	best := math.Inf(1)
	for range 30 {
		x, y := s.dice.between(0, WidthM), s.dice.between(0, HeightM)
		miss := math.Abs(at(d.Lake.depth, x, y) - s.depthM)
		// a place of the right depth; where several offer, the one with food
		if score := miss - 0.5*math.Log(0.1+d.food(x, y)); score < best {
			best, s.x, s.y = score, x, y
		}
	}
	s.wide = d.radius(s)
	s.long = s.wide * d.Lake.Family.long
	s.head = s.dice.between(0, 2*math.Pi)
	if s.dice.unit() < 0.5 {
		s.home = 1 // goes with the deep on its right
	}
	s.begin(resting, 0, s.dice.between(0, 45))
}

func (contour) step(d *Day, s *school, minute int) {
	if minute >= int(s.until) {
		food := d.food(s.x, s.y)
		stay := food / (food + 0.6)
		switch {
		case s.phase == resting || s.phase == feeding:
			s.begin(travelling, minute, s.dice.between(6, 18))
			if s.dice.unit() < 0.25 {
				s.home = 1 - s.home
			}
			s.dx, s.dy = s.dice.between(5, 12), 0 // dx is the speed until the next minute turns it
		case s.dice.unit() > stay: // no food here: on
			s.begin(travelling, minute, s.dice.between(4, 10))
		case s.dice.unit() < d.appetite(minute)*math.Exp(-s.taken/d.wary(s)):
			s.begin(feeding, minute, s.dice.between(12, 32))
			s.course(s.head, s.dice.between(0.3, 2))
		default:
			s.begin(resting, minute, s.dice.between(15, 50))
			s.stop()
		}
	}
	if s.phase == travelling && minute%2 == 0 {
		contourCourse(d, s, minute)
	}
	if s.dx != 0 || s.dy != 0 {
		s.swim(minute)
	}
}

// contourCourse turns a school along the contour, with a pull back to its depth. On flat ground it goes straight on.
func contourCourse(d *Day, s *school, minute int) {
	speed := math.Hypot(s.dx, s.dy)
	gx, gy := d.Lake.slope(s.x, s.y)
	g := math.Hypot(gx, gy)
	if g < 0.001 {
		s.course(s.head+0.1*s.dice.normal(), speed)
		return
	}
	gx, gy = gx/g, gy/g
	// less deep by up to 0.6 m at both ends of the day
	want := s.depthM - 0.6*math.Abs(2*float64(minute)/minutes-1)
	pull := math.Max(-1, math.Min(1, (want-at(d.Lake.depth, s.x, s.y))/0.8))
	tx, ty := -gy, gx
	if s.home == 1 {
		tx, ty = gy, -gx
	}
	s.course(math.Atan2(ty+pull*gy, tx+pull*gx)+0.15*s.dice.normal(), speed)
}
