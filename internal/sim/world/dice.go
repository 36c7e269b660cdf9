package world

import "math"

// dice is a small random stream that a school carries with it, so that a school's whole day depends on its own seed and
// on what was done to it, never on the order in which others were asked (splitmix64 [Steele2014]).
type dice uint64

func (d *dice) next() uint64 {
	*d += 0x9e3779b97f4a7c15
	z := uint64(*d)
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// unit draws from 0 <= u < 1.
func (d *dice) unit() float64 { return float64(d.next()>>11) / (1 << 53) }

func (d *dice) between(lo, hi float64) float64 { return lo + (hi-lo)*d.unit() }

// normal draws from the standard normal distribution [BoxMuller1958].
func (d *dice) normal() float64 {
	return math.Sqrt(-2*math.Log(1-d.unit())) * math.Cos(2*math.Pi*d.unit())
}

// poisson draws a count by multiplying uniform numbers, which is quick for the small means here.
func (d *dice) poisson(mean float64) int {
	if mean <= 0 {
		return 0
	}
	n, product, floor := 0, d.unit(), math.Exp(-mean)
	for product > floor {
		n++
		product *= d.unit()
	}
	return n
}

// pick draws an index with the given cumulated weights.
func (d *dice) pick(cumulated []float64) int {
	u := d.unit() * cumulated[len(cumulated)-1]
	for i, c := range cumulated {
		if u < c {
			return i
		}
	}
	return len(cumulated) - 1
}

// seeded gives dice that depend on all the numbers.
func seeded(numbers ...uint64) dice {
	d := dice(0x6c62272e07bb0142)
	for _, n := range numbers {
		d ^= dice(n)
		d = dice(d.next())
	}
	return d
}
