package world

import "math"

// school is one school, pod or group. It is small, and copied when a run touches it.
type school struct {
	x, y       float64
	dx, dy     float64 // m in a minute
	long, wide float64 // semi-axes, m
	head       float64 // heading in radians, from east
	tox, toy   float64 // where it is going, or its own spot
	fish       float64
	good       float64 // share of good fish
	depthM     float64 // depth it keeps to, where its family does
	taken      float64 // fish taken lately: it is wary for it
	gave       int     // fish today
	dice       dice
	until      int16 // minute at which its phase ends
	held       int16 // minute until which a catch holds it
	home       int16 // place it keeps to
	phase      phase
}

// course sets heading and speed in metres a minute.
func (s *school) course(heading, speed float64) {
	s.head = heading
	s.dx, s.dy = speed*math.Cos(heading), speed*math.Sin(heading)
}

// toward sets course for a place.
func (s *school) toward(x, y, speed float64) { s.course(math.Atan2(y-s.y, x-s.x), speed) }

func (s *school) begin(p phase, minute int, lasts float64) {
	s.phase, s.until = p, int16(minute)+int16(math.Max(1, lasts))
}

func (s *school) stop() { s.dx, s.dy = 0, 0 }

// swim moves the school by a minute. A school that is being fed from lingers; one that meets the edge turns round.
func (s *school) swim(minute int) {
	slow := 1.0
	if int(s.held) > minute {
		slow = 0.3
	}
	x, y := s.x+slow*s.dx, s.y+slow*s.dy
	if x < 0 || x > WidthM {
		x, s.dx = s.x, -s.dx
		s.head = math.Atan2(s.dy, s.dx)
	}
	if y < 0 || y > HeightM {
		y, s.dy = s.y, -s.dy
		s.head = math.Atan2(s.dy, s.dx)
	}
	s.x, s.y = x, y
}

// near gives the squared distance of a place from the school's middle in units of its semi-axes, both widened a little:
// a sonar and a lure reach beyond the hole's own point.
func (s *school) near(x, y, reachM float64) float64 {
	return elliptical(x-s.x, y-s.y, s.long+reachM, s.wide+reachM, s.head)
}

func elliptical(dx, dy, a, b, head float64) float64 {
	if d2 := dx*dx + dy*dy; d2 > a*a || a == b {
		return d2 / (a * a) // outside the long axis the exact figure does not matter
	}
	if dx == 0 && dy == 0 {
		return 0
	}
	c, n := math.Cos(head), math.Sin(head)
	u, v := (dx*c+dy*n)/a, (dy*c-dx*n)/b
	return u*u + v*v
}

// thick is how dense the school is at that squared distance: a flat middle with a rim, nothing beyond.
func thick(q2 float64) float64 {
	if q2 >= 1 {
		return 0
	}
	return math.Sqrt(1 - q2)
}
