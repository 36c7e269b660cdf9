package web_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
)

// The ten answers stand behind the step on Now, and on a page of their own that Map leads to; the answers are the same.
func TestTenAnswersBehindOneTap(t *testing.T) {
	_, h, _ := demo(t, true)
	question := regexp.MustCompile(`<li id="answer-([a-z]+)"><h2>[^<]+\?</h2><ul><li>`)
	var keys [2]string
	for i, path := range []string{"/", "/why"} {
		w := get(h, path)
		all := question.FindAllStringSubmatch(w.Body.String(), -1)
		if w.Code != http.StatusOK || len(all) != 10 {
			t.Fatalf("%s: status %d, %d answers", path, w.Code, len(all))
		}
		for _, m := range all {
			keys[i] += m[1] + " "
		}
	}
	if keys[0] != "why looks wrong cost stay tried ice home walk seen " || keys[0] != keys[1] {
		t.Errorf("%v", keys)
	}
	for path, wants := range map[string][]string{
		"/":    {`<details class="why" id="why">`, "<b>Sit</b> 1: ", "1 hole", "by Ingrid Vossler", "3 shelters", "Too early to judge the odds: 23 looks of 40."},
		"/map": {`href="/why"`, "<b>Sit</b> 1: ", `class="facts"`, `class="reason"`},
	} {
		body := get(h, path).Body.String()
		for _, want := range wants {
			if !strings.Contains(body, want) {
				t.Errorf("%s does not show %q", path, want)
			}
		}
	}
	today := get(h, "/map/today.json").Body.String()
	for _, want := range []string{`"sort":"next"`, `"sort":"clock"`, `"sort":"other"`} {
		if !strings.Contains(today, want) {
			t.Errorf("the map does not draw %s", want)
		}
	}
}
