package safety

import (
	"testing"
	"time"

	"icehand/internal/base/quantity"
)

// The worked day of the made-up lake: agreed ashore 16:30, dusk 17:08. Minutes: common practice, no source.
func overdueAt(hour, minute int) OverdueInput {
	at := func(h, m int) time.Time { return time.Date(2026, 1, 15, h, m, 0, 0, time.FixedZone("", -3*3600)) }
	return OverdueInput{Now: at(hour, minute), Agreed: at(16, 30), Dusk: at(17, 8), CheckIn: 3 * time.Hour, Heard: at(12, 5), Out: 6, Was: true, Chill: -24, Chilled: true, Steps: UsualSteps()}
}

func TestStates(t *testing.T) {
	for what, x := range map[string]struct {
		in   OverdueInput
		want string
		over bool
	}{
		"not out yet": {func() OverdueInput {
			in := overdueAt(6, 0)
			in.Was, in.Out, in.Heard = false, 0, time.Time{}
			return in
		}(), TripPlanned, false},
		"not out, and the hour has passed": {func() OverdueInput {
			in := overdueAt(20, 0)
			in.Was, in.Out, in.Heard = false, 0, time.Time{}
			return in
		}(), TripPlanned, false},
		"out":                            {overdueAt(14, 0), TripOut, false},
		"check-in due":                   {overdueAt(15, 5), TripDue, false},
		"a minute before":                {overdueAt(15, 4), TripOut, false},
		"on the hour":                    {func() OverdueInput { in := overdueAt(16, 30); in.CheckIn = 0; return in }(), TripOut, false},
		"past the hour":                  {func() OverdueInput { in := overdueAt(16, 31); in.CheckIn = 0; return in }(), TripDue, true},
		"on the way home":                {func() OverdueInput { in := overdueAt(15, 20); in.Returning = in.Now; return in }(), TripReturning, false},
		"on the way home, too late":      {func() OverdueInput { in := overdueAt(17, 0); in.Returning = in.Now; return in }(), TripReturning, true},
		"all ashore":                     {func() OverdueInput { in := overdueAt(18, 0); in.Out = 0; return in }(), TripAshore, false},
		"one still out":                  {func() OverdueInput { in := overdueAt(18, 0); in.Out = 1; return in }(), TripDue, true},
		"no hour agreed, dusk stands in": {func() OverdueInput { in := overdueAt(17, 9); in.Agreed, in.CheckIn = time.Time{}, 0; return in }(), TripDue, true},
	} {
		if a := Watching(x.in); a.State != x.want || a.Overdue != x.over {
			t.Errorf("%s: %s, overdue %v", what, a.State, a.Overdue)
		}
	}
}

// Each step on both sides of its minute; the shorter minutes after dark, in hard cold on both sides of its line, and where cold or dusk is not known.
func TestSteps(t *testing.T) {
	due := func(in OverdueInput) (out string) {
		for _, s := range Watching(in).Steps {
			if s.Due {
				out += s.Do + " "
			}
		}
		return out
	}
	early := func(in OverdueInput) OverdueInput { in.Agreed = in.Agreed.Add(-2 * time.Hour); return in } // 14:30: an hour past it is still light
	for what, x := range map[string]struct {
		in   OverdueInput
		want string
	}{
		"before the first":         {overdueAt(16, 44), ""},
		"the first":                {overdueAt(16, 45), "call_party "},
		"light, at 30":             {early(overdueAt(15, 0)), "call_party look_for "},
		"light, before 60":         {early(overdueAt(15, 29)), "call_party look_for "},
		"light, at 60":             {early(overdueAt(15, 30)), "call_party look_for call_rescue "},
		"hard cold, at 30":         {func() OverdueInput { in := early(overdueAt(15, 0)); in.Chill = HardChill; return in }(), "call_party look_for call_rescue "},
		"just milder, at 30":       {func() OverdueInput { in := early(overdueAt(15, 0)); in.Chill = HardChill + 0.1; return in }(), "call_party look_for "},
		"cold not known, at 30":    {func() OverdueInput { in := early(overdueAt(15, 0)); in.Chilled = false; return in }(), "call_party look_for call_rescue "},
		"dusk not known, at 30":    {func() OverdueInput { in := early(overdueAt(15, 0)); in.Dusk = time.Time{}; return in }(), "call_party look_for call_rescue "},
		"light at 30, dark later":  {overdueAt(17, 0), "call_party look_for "},
		"agreed 16:38, dark at 30": {func() OverdueInput { in := overdueAt(17, 8); in.Agreed = in.Agreed.Add(8 * time.Minute); return in }(), "call_party look_for call_rescue "},
	} {
		if got := due(x.in); got != x.want {
			t.Errorf("%s: %q", what, got)
		}
	}
	a := Watching(func() OverdueInput {
		in := overdueAt(17, 40)
		in.Taken = map[string]time.Time{CallParty: in.Agreed.Add(16 * time.Minute)}
		return in
	}())
	if a.Next != 1 || a.Steps[a.Next].Do != LookFor {
		t.Errorf("next is %d of %v", a.Next, a.Steps)
	}
}

// Steps are never later for knowing less, and never move back as time goes on: over all minutes of a day and all that may be unknown.
func TestStepsNeverLater(t *testing.T) {
	checked := 0
	for minute := range 24 * 60 {
		in := overdueAt(0, 0)
		in.Now = in.Now.Add(time.Duration(minute) * time.Minute)
		known := Watching(in)
		for _, less := range []func(*OverdueInput){func(x *OverdueInput) { x.Chilled = false }, func(x *OverdueInput) { x.Dusk = time.Time{} }, func(x *OverdueInput) { x.Chill = quantity.Celsius(-60) }} {
			other := in
			less(&other)
			b := Watching(other)
			for i := range known.Steps {
				if checked++; b.Steps[i].At.After(known.Steps[i].At) || known.Steps[i].Due && !b.Steps[i].Due {
					t.Fatalf("minute %d: step %d comes later for knowing less", minute, i)
				}
			}
		}
	}
	if checked == 0 {
		t.Fatal("nothing was compared")
	}
}
