package plan

import (
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/priors"
	"icehand/internal/stats/intensity"
	"icehand/internal/stats/track"
)

// Params are the constants of the odds. [Default] gives those in use; every value is our own assumption, chosen on a
// made-up lake or by common practice, no source, unless a key stands beside it.
type Params struct {
	Known     func(geo.Local) float64 // schools by m2; nil: to be learned
	Field     intensity.Params        // correlation is one half at 0.28 of the reach: 168 m
	LevelSD   float64                 // of the logarithm of the number of schools
	DaySD     float64                 // of the logarithm of a day's luck
	BandSD    float64                 // of the logarithm of what a band of depth is worth
	BandWidth quantity.Length         // of a band of depth
	FormSD    float64                 // of the logarithm of what a form of the bottom is worth
	LevelKeep float64                 // share of the level's evidence that a night leaves
	Settle    time.Duration           // level, day and bands take in what was seen at such intervals
	FieldKeep float64                 // share of the field's mean that a night leaves

	HalfCone    quantity.Angle // of the sonar's cone
	ConeShare   float64        // share of the cone's radius that adds to a school's
	Detect      float64        // chance that a look shows a school under the hole
	SitDetect   float64        // the same for a rod in the water, of the schools that pass
	LookWorth   float64        // seen over expected with the true field, for looks
	SitWorth    float64        // the same for sits
	UsualLook   time.Duration
	FalseFew    float64 // chance that a few unconfirmed marks were no school
	FalseMany   float64
	FalseRate   float64       // intensity of false marks against which a new school is weighed
	Confirm     time.Duration // a second mark after this confirms
	ConfirmNear quantity.Length
	Pending     time.Duration   // how long marks wait for confirmation
	CensorNear  quantity.Length // of a confirmed school, and as much again for doubt about its place: nothing there is lasting
	CensorFor   time.Duration   // after it was seen last
	Motion      track.Motion
	Clear       [3]float64    // share of Detect at which a look shows a school, by phase: fish at rest lie where a sonar is blind
	MostSeen    float64       // chance that a look shows marks, however many schools are there
	Wander      [3]float64    // m2/s, by which the variance of a school's place grows in each coordinate, by phase
	FreshVar    float64       // m2, of a school just seen
	SitShadow   time.Duration // a blank sit of this length shadows its place like a look, but for a factor e
	Residence   time.Duration // mean time that a school stays under the hole where it was seen
	Forget      time.Duration
	LeastExists float64

	CrowdPull  float64         // logarithm by which ground in and about a crowd is held for better
	CrowdReach quantity.Length // of that, beyond the crowd's edge
	CrowdLoss  float64         // share of the odds lost in the middle of a crowd
	CrowdEdge  quantity.Length // over which that loss ends, beyond the crowd's edge
	CatchLoss  float64         // loss of the logarithm of the odds by fish taken
	CatchNear  quantity.Length
	CatchFade  time.Duration
	SketchPull float64 // logarithm of the odds by unit of a sketch's weight

	Bites      track.Phases // bites a minute and rod over a school, by phase and quality
	BiteSpread float64      // gamma shape of the bites' own spread
	BiteShape  float64      // gamma shape of the prior on the bites' scale
	Landed     float64      // share of the bites that are landed
	Wary       float64      // fish taken that bring a school's bites down by a factor e
	Calm       time.Duration
	Keeps      float64 // share of schools that feed where they rested
	Find       float64 // fish that a rod takes from a school just found, before it leaves
}

// Knowing gives the constants for ground whose schools by m2 are known, so that nothing of it is learned. No guide has
// such knowledge; ways of searching are compared with it.
func (p Params) Knowing(density func(geo.Local) float64) Params {
	const hardly = 0.05 // of the logarithm
	p.Known = density
	p.Field.SD, p.LevelSD, p.BandSD, p.FormSD, p.DaySD = hardly, hardly, hardly, hardly, hardly
	return p
}

// Default gives the constants in use for a season.
func Default(s priors.Season) Params {
	return Params{
		Field:   intensity.Params{Spacing: 75 * quantity.Metre, Reach: 600 * quantity.Metre, SD: 1.3, Shape: 3},
		LevelSD: 0.5, BandSD: 0.5, DaySD: 0.3, FormSD: 0.15, BandWidth: 2 * quantity.Metre, LevelKeep: 0.9, FieldKeep: 0.99, Settle: time.Minute,
		HalfCone: 10 * quantity.Degree, ConeShare: 0.6, Detect: 0.93, SitDetect: 0.9, LookWorth: 0.9, SitWorth: 0.7,
		UsualLook: 30 * time.Second, FalseFew: 0.03, FalseMany: 0.005, FalseRate: 0.01,
		Confirm: 30 * time.Second, ConfirmNear: 12 * quantity.Metre, Pending: 12 * time.Minute, CensorNear: 20 * quantity.Metre, CensorFor: 20 * time.Minute,
		Motion:   track.Motion{Diffusion: 0.05, Memory: 60 * time.Minute},
		Clear:    [3]float64{track.Resting: 0.5, track.Travelling: 0.7, track.Feeding: 0.85},
		MostSeen: 0.87,
		Wander:   [3]float64{track.Resting: 1.0 / 60, track.Travelling: 150.0 / 60, track.Feeding: 20.0 / 60},
		FreshVar: 40, Residence: 7 * time.Minute, SitShadow: 10 * time.Minute, Forget: 150 * time.Minute, LeastExists: 0.08,
		CrowdPull: 1.2, CrowdReach: 180 * quantity.Metre,
		CrowdLoss: 0.75, CrowdEdge: 50 * quantity.Metre,
		CatchLoss: 0.02, CatchNear: 60 * quantity.Metre, CatchFade: 150 * time.Minute,
		SketchPull: 0.4,
		Bites: track.Phases{
			track.Resting:    {0.015, 0.03},
			track.Travelling: {0.03, 0.06},
			track.Feeding:    {0.25, 0.80},
		},
		BiteSpread: 4, BiteShape: 8, Find: 4, Landed: 0.75, Wary: 25, Calm: 130 * time.Minute, Keeps: 0.1,
	}
}
