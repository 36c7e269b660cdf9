package track

import (
	"testing"
	"time"

	"icehand/internal/base/num"
)

func TestOutlookOfAConstantRate(t *testing.T) {
	r := Rates{Rest: time.Hour, Travel: 8 * time.Minute, Feed: 25 * time.Minute}
	o := NewOutlook(r, Phases{{0.1, 0.1}, {0.1, 0.1}, {0.1, 0.1}})
	b := Steady(r, 0.5)
	if got := o.Within(&b, 20*time.Minute); !num.Close(got, 2, 1e-9) {
		t.Errorf("%g events in 20 min at 0.1 a minute", got)
	}
	if got := o.BestRate(&b, 5*time.Minute); !num.Close(got, 0.1, 1e-9) {
		t.Errorf("best rate %g", got)
	}
}

// Feeding fish are worth most now, resting ones later: the best stay over feeding fish is short, and worth more.
func TestOutlookFallsWithTheFeed(t *testing.T) {
	r := Rates{Rest: time.Hour, Travel: 8 * time.Minute, Feed: 25 * time.Minute}
	o := NewOutlook(r, Phases{Feeding: {0.4, 0.4}})
	feeds, rests := Phases{Feeding: {0.5, 0.5}}, Phases{Resting: {0.5, 0.5}}
	short, long := o.Within(&feeds, 4*time.Minute)/4, o.Within(&feeds, 40*time.Minute)/40
	if !(short > long && short < 0.4 && o.Within(&rests, 40*time.Minute) > 0 && o.BestRate(&feeds, 5*time.Minute) > 5*o.BestRate(&rests, 5*time.Minute)) {
		t.Errorf("feeding %.3f then %.3f a minute, resting %.3f", short, long, o.Within(&rests, 40*time.Minute)/40)
	}
}
