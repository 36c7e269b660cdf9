package rehearse

import (
	"context"
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// A day that is shown is the day that is compared: keeping frames changes nothing, for any way on any kind of lake.
func TestWatchedDayIsTheSameDay(t *testing.T) {
	stage, depths := stageOf(t, "mid"), newSurfaces()
	for _, f := range world.Families() {
		u, err := Unfold(t.Context(), Watch{Family: f.Name, Stage: stage, Seed: 2000, Rods: 2, Ways: []string{"spiral-rule", "notes-planner", "engine"}, Every: 20 * time.Minute})
		if err != nil {
			t.Fatal(err)
		}
		d := world.NewLake(f, 2000, 0).Day(stage.Season, 0)
		for i, x := range u.Compared {
			run := d.Run()
			want, err := Walk(d, run, find(x.Way).make(setting{d, run, depths, firstLook}), Brief(d, 2, way.Numbers, 2000*1000, 0))
			if err != nil {
				t.Fatal(err)
			}
			want.Forecasts = nil // a day that is shown keeps no odds
			if !reflect.DeepEqual(x.Outcome, want) {
				t.Errorf("%s, way %d: shown %+v, walked %+v", f.Name, i, x.Outcome, want)
			}
		}
	}
}

// Frames lie evenly over the whole day; what they count never falls, and ends as the outcome has it.
func TestDayUnfolds(t *testing.T) {
	last := 0
	u, err := Unfold(t.Context(), Watch{Family: "roamers", Stage: stageOf(t, "mid"), Seed: 2000, Rods: 3, Ways: []string{"spiral-rule", "rule"},
		Progress: func(done, of int) {
			if done < last || of != 1020 { // two ways of 510 minutes
				t.Errorf("%d of %d minutes after %d", done, of, last)
			}
			last = done
		}})
	if err != nil {
		t.Fatal(err)
	}
	if last != 1020 {
		t.Errorf("told of %d minutes, want 1020", last)
	}
	if u.Chart == nil || len(u.Crowds) == 0 || len(u.Compared) != 2 {
		t.Fatalf("chart %v, %d crowds, %d ways", u.Chart, len(u.Crowds), len(u.Compared))
	}
	for _, x := range u.Compared {
		if len(x.Frames) != 103 { // each five minutes of 510, both ends
			t.Fatalf("%s: %d frames", x.Way, len(x.Frames))
		}
		if p := x.Frames[0].Scout; p.Distance(u.Landing) > 1 {
			t.Errorf("%s: the day begins at %v, the landing is %v", x.Way, p, u.Landing)
		}
		holes, feeding, resting := 0, 0, 0
		fish := make([]int, 3)
		for k, f := range x.Frames {
			if f.At != time.Duration(k)*Every || f.Holes < holes || len(f.Guests) != 3 || len(f.Schools) < 20 {
				t.Fatalf("%s: frame %d: %v, %d holes after %d, %d guests, %d schools", x.Way, k, f.At, f.Holes, holes, len(f.Guests), len(f.Schools))
			}
			for g, s := range f.Guests {
				if s.Fish < fish[g] || !world.Inside(s.At) {
					t.Errorf("%s: frame %d: guest %d has %d fish after %d, at %v", x.Way, k, g, s.Fish, fish[g], s.At)
				}
				fish[g] = s.Fish
			}
			holes = f.Holes
			for _, s := range f.Schools {
				if s.Feeding {
					feeding++
				} else {
					resting++
				}
			}
		}
		if feeding == 0 || resting == 0 {
			t.Errorf("%s: %d feeding and %d resting schools in all frames", x.Way, feeding, resting)
		}
		if !reflect.DeepEqual(fish, x.Outcome.PerGuest) || holes != x.Outcome.Holes || len(x.Holes) != holes {
			t.Errorf("%s: frames end with %v and %d holes, the outcome has %v and %d", x.Way, fish, holes, x.Outcome.PerGuest, x.Outcome.Holes)
		}
		landed := 0
		for _, h := range x.Holes {
			landed += len(h.Fish)
		}
		// a fish of the last half minute is taken when the day is over, and told to no way
		if landed > x.Outcome.Fish || landed < x.Outcome.Fish-3 {
			t.Errorf("%s: %d fish at holes, %d in all", x.Way, landed, x.Outcome.Fish)
		}
	}
}

func TestUnfoldStopsAndRefuses(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stages := Stages()
	_, err := Unfold(ctx, Watch{Family: "pods", Stage: stages[1], Seed: 1, Ways: []string{"rule"}, Progress: func(done, _ int) {
		if done > 60 {
			stop()
		}
		if done > 90 {
			t.Errorf("walked on to minute %d after the stop", done)
		}
	}})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("a stopped day gave %v", err)
	}
	for name, w := range map[string]Watch{
		"the bound is walked":  {Family: "pods", Stage: stages[0], Ways: []string{"bound"}},
		"a memory for one day": {Family: "pods", Stage: stages[0], Ways: []string{"engine-memory"}},
		"no way":               {Family: "pods", Stage: stages[0]},
		"no family":            {Family: "sharks", Stage: stages[0], Ways: []string{"rule"}},
		"forty guests":         {Family: "pods", Stage: stages[0], Ways: []string{"rule"}, Rods: 40},
	} {
		if _, err := Unfold(t.Context(), w); fault.CodeOf(err) != fault.BadInput {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A mistake in a way ends the run with an error that tells where, not the program that walks it.
func TestPanicIsAnError(t *testing.T) {
	o := Options{Workers: 2}
	_, err := o.work(t.Context(), []job{{key: "days mid 3", size: 1, walk: func(context.Context, func(int)) ([]Outcome, error) { panic("off the map") }}})
	if err == nil || !strings.Contains(err.Error(), "days mid 3: panic: off the map") || !strings.Contains(err.Error(), "unfold_test.go") {
		t.Errorf("a panic gave %v", err)
	}
}
