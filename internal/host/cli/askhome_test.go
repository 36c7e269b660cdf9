package cli

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/geo"
)

// Hours, people, counts, the watch and a line go in through the door for scripts, and each moves the turn-back time; what is wrong changes nothing.
func TestAskTheWayHome(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	f := geo.NewFrame(geo.Position{Lat: 47.9, Lon: -45})
	var fixes []string
	for s := range 181 { // 2 km north at 4 km/h
		p := f.Position(geo.Local{N: -1000 + float64(s)*10*4/3.6})
		fixes = append(fixes, fmt.Sprintf(`{"lat":%.7f,"lon":%.7f,"accuracy_m":5,"time":%q}`, p.Lat, p.Lon, time.Date(2026, 1, 15, 11, 0, 10*s, 0, time.UTC).Format(time.RFC3339)))
	}
	out := m.talk(lakeLine(t),
		`{"do":"party","rods":2,"at":`+at(0, -1000)+`,"time":"2026-01-15T07:00:00-03:00"}`,
		`{"do":"person","name":"Lena","age":"child","time":"2026-01-15T07:30:00-03:00"}`,
		`{"ask":"turn_back","at":`+at(0, 900)+`,"time":"2026-01-15T09:00:00-03:00"}`,
		`{"do":"line","purpose":"out","people":["Lena"],"fixes":[`+strings.Join(fixes, ",")+`]}`,
		`{"ask":"turn_back","at":`+at(0, 900)+`,"time":"2026-01-15T09:00:00-03:00"}`,
		`{"do":"hours","fuel_until":"12:30","cold_until":"13:00","time":"2026-01-15T09:00:00-03:00"}`,
		`{"ask":"turn_back","time":"2026-01-15T09:00:30-03:00"}`,
		`{"do":"hours","fuel_until":"","time":"2026-01-15T09:01:00-03:00"}`,
		`{"ask":"turn_back","time":"2026-01-15T09:01:30-03:00"}`,
		`{"do":"head_count","present":["Lena"],"time":"2026-01-15T09:02:00-03:00"}`,
		`{"do":"watch","what":"warm","person":"Lena","time":"2026-01-15T09:03:00-03:00"}`,
		`{"do":"person","name":"Lena","ashore":true,"time":"2026-01-15T09:04:00-03:00"}`,
		`{"do":"hours","pack_up_min":40,"margin_min":60,"time":"2026-01-15T09:05:00-03:00"}`,
		`{"ask":"turn_back","time":"2026-01-15T09:05:30-03:00"}`,
		`{"do":"hours","pack_up_min":0,"margin_min":0,"time":"2026-01-15T09:06:00-03:00"}`,
		`{"ask":"turn_back","time":"2026-01-15T09:06:30-03:00"}`,
		`{"do":"hours","margin_min":10}`, `{"do":"hours","fuel_until":"late"}`, `{"do":"hours"}`, `{"do":"watch","what":"sauna"}`, `{"do":"head_count","present":["Nobody"]}`,
		`{"do":"line","purpose":"out","fixes":[{"lat":99,"lon":0}]}`, `{"do":"line","purpose":"out","fixes":[]}`)
	binding := func(i int) string { b, _ := out[i]["binding"].(map[string]any); s, _ := b["code"].(string); return s }
	travel := func(i int) float64 {
		w, _ := out[i]["way"].(map[string]any)
		d, _ := w["distance_m"].(float64)
		return d
	}
	if p, _ := out[4]["poor"].(float64); out[4]["ok"] != true || p != 0 || out[4]["fixes"] != 181.0 {
		t.Errorf("line: %v", out[4])
	}
	if b, a := fmt.Sprint(out[3]["at"]), fmt.Sprint(out[5]["at"]); !(b < a) || travel(5) < 1800 {
		t.Errorf("the child walked the line at 4 km/h: %s, before %s; %v", a, b, out[5]["way"])
	}
	kept := func(i int) string {
		b, _ := out[i]["binding"].(map[string]any)
		return fmt.Sprint(b["pack_up"], b["margin"])
	}
	if kept(14) != "40m0s1h0m0s" || kept(16) != "20m0s30m0s" {
		t.Errorf("kept %s, then %s", kept(14), kept(16))
	}
	if binding(7) != "fuel" || binding(9) != "cold" {
		t.Errorf("bound by %s, then %s", binding(7), binding(9))
	}
	for i, x := range out {
		if failed := x["error"] != nil; failed != (i >= 17) {
			t.Errorf("line %d: %v", i+1, x)
		}
	}
}
