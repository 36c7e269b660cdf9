package cli

import (
	"fmt"
	"strings"
	"testing"
)

// A hazard that cannot be meant is refused by a sentence that names field, value and mend; the record stays as it was, and
// the same hazard mended is taken.
func TestAskRefusesHazardsThatCannotBe(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	m.withLake()
	folder := map[string]string{"ICEHAND_DATA": m.env.Home}
	m.env.Getenv, m.env.Home = func(key string) string { return folder[key] }, m.env.Home+"-none" // ask keeps what it is told in a folder that is named
	entries := func() int { return strings.Count(m.must("export", "ndjson"), "\n") }
	before := entries()
	hazard := func(what, shape string, radius float64, points ...string) string {
		return fmt.Sprintf(`{"do":"hazard","time":"2026-01-15T09:00:00-03:00","what":%q,"shape":%q,"points":[%s],"radius_m":%g}`, what, shape, strings.Join(points, ","), radius)
	}
	a, b, c, d := at(0, 0), at(100, 0), at(100, 100), at(0, 100)
	cases := []struct{ line, says string }{
		{hazard("thin", "area", 0, a, c, b, d), "the outline crosses itself, between corners 1 and 2 and corners 3 and 4; name the corners in turn"},
		{hazard("thin", "area", 0, a, b, c, at(50, -50), d), "the outline crosses itself, between corners"},
		{hazard("thin", "area", 0, a, b), "area of 2 points needs 3"},
		{hazard("thin", "area", 0, a, b, b, a), "an area of 2 different corners needs 3"},
		{hazard("thin", "area", 0), "area of 0 points needs 3"},
		{hazard("crack", "line", 0, a), "line of 1 points needs 2"},
		{hazard("crack", "point", 0), "point of 0 points needs 1"},
		{hazard("crack", "square", 0, a), `shape "square" is none of`},
		{hazard("", "point", 0, a), `hazard "" is none of`},
		{hazard("dragon", "point", 0, a), `hazard "dragon" is none of`},
		{hazard("thin", "point", -5, a), "hazard radius of -5 m is outside 0 m to 20000 m"},
		{hazard("thin", "point", 90_000, a), "hazard radius of 90000 m is outside"},
		{hazard("thin", "area", 0, a, b, `{"lat":47.9,"lon":45.0}`), "corner 3 of the hazard"}, // the minus forgotten
		{hazard("thin", "point", 0, at(-60_000, 0)), "km from the lake"},
		{hazard("thin", "point", 0, `{"lat":95,"lon":-45}`), "not on the globe"},
		{strings.Replace(hazard("thin", "point", 0, a), `"radius_m":0`, `"report":"perhaps"`, 1), `report "perhaps" is none of`},
	}
	var lines []string
	for _, c := range cases {
		lines = append(lines, c.line)
	}
	for i, x := range m.talk(lines...) {
		e, _ := x["error"].(map[string]any)
		if e["code"] != "bad_input" || !strings.Contains(fmt.Sprint(e["message"]), cases[i].says) || fmt.Sprint(e["hint"]) == "" || e["hint"] == nil {
			t.Errorf("%s: %v, want %q", cases[i].line, x, cases[i].says)
		}
	}
	if after := entries(); after != before {
		t.Errorf("%d entries became %d", before, after)
	}
	for _, x := range m.talk(hazard("thin", "area", 0, a, b, c, d), hazard("thin", "area", 0, a, b, c, d, a), hazard("crack", "line", 10, a, c)) {
		if fail(x) != "" {
			t.Errorf("a hazard mended: %v", x)
		}
	}
	if after := entries(); after != before+3 {
		t.Errorf("%d entries became %d, want three more", before, after)
	}
}
