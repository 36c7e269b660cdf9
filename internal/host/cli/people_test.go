package cli

import (
	"strings"
	"testing"
)

// People are put onto a day, reported and told of by command; what cannot be is refused and writes nothing.
func TestPeopleByCommand(t *testing.T) {
	m := newMachine(t, "2026-01-15T06:30:00-03:00")
	m.must("import", examples+"outline.geojson", "--tz", "Etc/GMT+3", "-y")
	m.must("people", "--add", "Ingrid Vossler", "--role", "guide")
	m.must("people", "--add", "Petra Albrecht", "--rod", "2", "--notes", "cold hands")
	m.must("people", "--add", "Tim Albrecht", "--age", "child", "--state", "on_ice")
	for _, wrong := range [][]string{{"--add", " "}, {"--add", "X", "--age", "old"}, {"--add", "X", "--until", "soon"}, {"--who", "Nobody", "--seen"}, {"--seen"}, {"--state", "asleep"}} {
		if status := m.run(append([]string{"people"}, wrong...)...); status == exitAnswered {
			t.Errorf("%v was taken: %s", wrong, m.out.String())
		}
	}
	m.must("people", "--who", "petra", "--seen", "--until", "2026-12-31")
	m.must("people", "--state", "on_ice")
	m.must("people", "--state", "ashore", "--who", "tim")
	var got gatheringJSON
	m.object(&got, "people")
	if len(got.Members) != 3 {
		t.Fatalf("%+v", got.Members)
	}
	for _, x := range got.Members {
		want := map[string]string{"Ingrid Vossler": "on_ice", "Petra Albrecht": "on_ice", "Tim Albrecht": "ashore"}[x.Name]
		if x.State != want || x.Name == "Petra Albrecht" && x.Licence != "seen" {
			t.Errorf("%+v, want %s", x, want)
		}
	}
	if out := m.must("tackle", "--record"); !strings.Contains(out, "Too few to compare lures") {
		t.Errorf("%s", out)
	}
}

// Somebody who was entered twice is told of, cannot be named for an act until one entry is gone, and is taken off with a reason:
// the later entry, or the earlier when the later has fish to its name. Who stands once is not taken off.
func TestEnteredTwice(t *testing.T) {
	m := newMachine(t, "2026-01-15T06:30:00-03:00")
	m.must("import", examples+"outline.geojson", "--tz", "Etc/GMT+3", "-y")
	m.must("people", "--add", "Petra Albrecht")
	if status := m.run("people", "--double", "Petra Albrecht"); status == exitAnswered || !strings.Contains(m.err.String(), "stands twice") {
		t.Errorf("once: status %d, %s", status, m.err.String())
	}
	m.must("people", "--add", "petra  albrecht")
	if out := m.must("people"); strings.Count(out, "the same name stands twice") != 2 {
		t.Errorf("not told: %s", out)
	}
	if status := m.run("people", "--who", "Petra", "--seen"); status == exitAnswered || !strings.Contains(m.err.String(), "--double") {
		t.Errorf("named while there are two: status %d, %s", status, m.err.String())
	}
	if status := m.run("people", "--double", "Petra Albrecht", "--why", " "); status == exitAnswered {
		t.Error("taken off without a reason")
	}
	m.must("people", "--double", "Petra Albrecht")
	var got gatheringJSON
	if m.object(&got, "people"); len(got.Members) != 1 || got.Members[0].Name != "Petra Albrecht" || got.Members[0].Twice {
		t.Errorf("%+v", got.Members)
	}
}
