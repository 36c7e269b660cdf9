package num

import (
	"hash/fnv"
	"math"
)

// Noise is a field of random numbers in which every number has an address. Asking for one more, or in another order,
// shifts none of the others, and each is the same to the last bit on every machine. For a stream without addresses
// take [NewStream].
type Noise uint64

// NewNoise gives a field that depends only on the seed and the names.
func NewNoise(seed uint64, names ...string) Noise {
	h := fnv.New64a()
	for _, n := range names {
		h.Write([]byte(n))
		h.Write([]byte{0})
	}
	return Noise(scramble(seed) ^ h.Sum64())
}

// Uniform gives the number at an address, evenly spread over the open interval 0 to 1.
func (n Noise) Uniform(i, j uint64) float64 { return n.uniform(i, j, 0) }

// Normal gives the number at an address, from the standard normal distribution, by the polar method
// [MarsagliaBray1964].
func (n Noise) Normal(i, j uint64) float64 {
	for try := uint64(0); ; try += 2 {
		u, v := 2*n.uniform(i, j, try)-1, 2*n.uniform(i, j, try+1)-1
		s := float64(u*u) + float64(v*v)
		if s < 1 && s > 0 {
			return u * math.Sqrt(-2*Log(s)/s)
		}
	}
}

func (n Noise) uniform(i, j, try uint64) float64 {
	bits := scramble(scramble(scramble(uint64(n)+i)+j) + try)
	return (float64(bits>>11) + 0.5) / (1 << 53)
}

// scramble is the output step of SplitMix64 [Steele2014].
func scramble(z uint64) uint64 {
	z += 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// ln 2 in two parts: the first has zeros at its end, so that small multiples of it are exact.
const (
	ln2High = 6.93147180369123816490e-01
	ln2Low  = 1.90821492927058770002e-10
)

// Log is the natural logarithm of a positive number, the same to the last bit on every machine, which math.Log is not.
// It errs by a few units of the last place. It panics on zero, negative numbers and what is not a number.
func Log(x float64) float64 {
	if !(x > 0) || math.IsInf(x, 1) {
		panic("num: logarithm of a number that is not positive")
	}
	f, e := math.Frexp(x)
	if f < math.Sqrt2/2 {
		f, e = 2*f, e-1
	}
	// ln f = 2 artanh s; s is at most 0.172, so that the term after s^23 is below 1e-19
	s := (f - 1) / (f + 1)
	z := s * s
	p := 0.0
	for k := 23.0; k >= 3; k -= 2 {
		p = float64(z * (1/k + p))
	}
	k := float64(e)
	return float64(k*ln2High) + (float64(k*ln2Low) + float64(2*s*(1+p)))
}

// Exp is the exponential function, the same to the last bit on every machine, which math.Exp is not. It errs by a few
// units of the last place.
func Exp(x float64) float64 {
	if math.IsNaN(x) || math.Abs(x) > 700 { // near overflow and underflow nobody counts the bits
		return math.Exp(x)
	}
	k := math.Round(x / math.Ln2)
	r := float64(x-float64(k*ln2High)) - float64(k*ln2Low)
	// the term after r^14 is below 1e-19
	p := 1.0
	for n := 14.0; n >= 1; n-- {
		p = 1 + float64(r/n*p)
	}
	return math.Ldexp(p, int(k))
}
