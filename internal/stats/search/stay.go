package search

import (
	"math"
	"time"

	"icehand/internal/base/quantity"
)

// BestStay gives the stay at a place whose gain levels off as 1-exp(-t/τ) that brings the most in the long run, when
// reaching the next one takes T: leave when the rate here has fallen to the long-run rate [Charnov1976].
func BestStay(τ, T float64) float64 {
	positive(τ)
	notNegative(T)
	if T == 0 {
		return 0
	}
	r := T / τ
	u := math.Min(math.Sqrt(2*r), 1+2*math.Log1p(r)) // both lie above the root
	// (SEARCH-18) u = t/τ solves exp(u) - 1 - u = T/τ; that is convex, so Newton's method comes down to the root
	for range 100 {
		step := (math.Expm1(u) - u - r) / math.Expm1(u)
		u -= step
		if math.Abs(step) < 1e-14*(1+u) {
			break
		}
	}
	return u * τ
}

// LongRunRate gives the gain by time of staying t at places worth at most G, with T between them.
func LongRunRate(G, τ, T, t float64) float64 {
	positive(τ, T+t)
	// (SEARCH-19)
	return G * -math.Expm1(-t/τ) / (t + T)
}

// Gamma is a belief about the rate of events: shape a events in rate b of time [Iwasa1981].
type Gamma struct{ Shape, Rate float64 }

// Update gives the belief after n events in a time t.
func (g Gamma) Update(n, t float64) Gamma {
	notNegative(n, t)
	// (SEARCH-20)
	return Gamma{g.Shape + n, g.Rate + t}
}

// Mean gives the expected rate.
func (g Gamma) Mean() float64 {
	positive(g.Rate)
	return g.Shape / g.Rate
}

// GivingUp gives how much longer to wait without an event until the expected rate has fallen to ρ, 0 when it is there
// already. Each event buys another 1/ρ.
func (g Gamma) GivingUp(ρ float64) float64 {
	positive(ρ)
	// (SEARCH-21)
	return math.Max(0, g.Shape/ρ-g.Rate)
}

// None gives the chance of no event in a time t.
func (g Gamma) None(t float64) float64 {
	positive(g.Rate)
	notNegative(t)
	// (SEARCH-22)
	return math.Pow(g.Rate/(g.Rate+t), g.Shape)
}

// Diffusivity gives the long-run spreading of a walker that keeps speed v and turns after T on average, in m2/s.
func Diffusivity(v quantity.Speed, T time.Duration) float64 {
	notNegative(v.MetresPerSecond(), T.Seconds())
	// (SEARCH-23)
	return v.MetresPerSecond() * v.MetresPerSecond() * T.Seconds() / 2
}

// Spread gives the standard deviation along each axis after a time, by the diffusivity in m2/s.
func Spread(D float64, t time.Duration) quantity.Length {
	notNegative(D, t.Seconds())
	// (SEARCH-24)
	return quantity.Length(math.Sqrt(2 * D * t.Seconds()))
}

// TwoState is something that turns on and off at random with these mean times.
type TwoState struct{ On, Off float64 }

// OnShare gives the share of time that it is on in the long run.
func (s TwoState) OnShare() float64 {
	positive(s.On, s.Off)
	// (SEARCH-25)
	return s.On / (s.On + s.Off)
}

// OnAfter gives the chance that it is on a time after it was off.
func (s TwoState) OnAfter(t float64) float64 {
	notNegative(t)
	// (SEARCH-26)
	return s.OnShare() * -math.Expm1(-(1/s.On+1/s.Off)*t)
}
