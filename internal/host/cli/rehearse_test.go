package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"icehand/internal/base/fault"
)

func rehearsed(t *testing.T, c rehearseCmd, asJSON bool) (out, progress string, err error) {
	t.Helper()
	var o, e bytes.Buffer
	g := &Globals{JSON: asJSON, env: Env{Out: &o, Err: &e}}
	err = c.Run(context.Background(), g)
	return o.String(), e.String(), err
}

func TestRehearse(t *testing.T) {
	picture := filepath.Join(t.TempDir(), "r.svg")
	c := rehearseCmd{Days: 2, Seed: 2000, Stage: "late", Party: 2, Aim: "numbers", Ways: []string{"rule", "spiral-rule"}, Picture: picture}
	out, progress, err := rehearsed(t, c, true)
	if err != nil {
		t.Fatal(err)
	}
	var answer struct {
		Stages []struct {
			Stage    string
			Policies []struct{ Name string }
		}
	}
	if err := json.Unmarshal([]byte(out), &answer); err != nil || len(answer.Stages) != 1 || answer.Stages[0].Stage != "late" || len(answer.Stages[0].Policies) != 2 {
		t.Errorf("answer %s, %v", out, err)
	}
	if !strings.HasSuffix(strings.TrimSpace(progress), "100 %") {
		t.Errorf("progress ends with %q", progress)
	}
	if svg, err := os.ReadFile(picture); err != nil || !bytes.HasPrefix(svg, []byte("<svg")) {
		t.Errorf("picture %.20q, %v", svg, err)
	}
	if out, _, err = rehearsed(t, c, false); err != nil || !strings.Contains(out, "No figure is a catch forecast") {
		t.Errorf("table %q, %v", out, err)
	}
}

func TestRehearseSeason(t *testing.T) {
	c := rehearseCmd{Days: 2, Seed: 2000, Stage: "all", Party: 2, Aim: "numbers", Lakes: 1, Winters: 1, Season: true, Ways: []string{"spiral-rule", "remembering-rule"}}
	out, _, err := rehearsed(t, c, false)
	if err != nil || !strings.Contains(out, "Winter 1") {
		t.Errorf("table %q, %v", out, err)
	}
}

func TestRehearseRefuses(t *testing.T) {
	_, _, err := rehearsed(t, rehearseCmd{Days: 1, Stage: "mid", Party: 4, Ways: []string{"luck"}}, false)
	var f *fault.Error
	if !errors.As(err, &f) || f.Code != fault.BadInput || f.Hint == "" {
		t.Errorf("an unknown way gave %v", err)
	}
}

// The ice trial prints every figure beside what it is held to, and all are met.
func TestRehearseIce(t *testing.T) {
	c := rehearseCmd{Days: 20, Seed: 900000, Ice: true}
	out, _, err := rehearsed(t, c, true)
	if err != nil {
		t.Fatal(err)
	}
	var answer iceTrial
	if err := json.Unmarshal([]byte(out), &answer); err != nil || answer.Winters != 20 || len(answer.Parts) != 2 || answer.Parts[0].Part != "growth" || len(answer.Ageing) != 7 {
		t.Fatalf("answer %s, %v", out, err)
	}
	for _, p := range answer.Parts {
		if p.Days == 0 || len(p.Figures) != 4 || p.HolesCM >= p.LawCM {
			t.Errorf("%+v", p)
		}
	}
	if !(answer.Season.MS > 0 && answer.Season.MS <= answer.Season.MostMS) {
		t.Errorf("a season of %d members takes %.1f ms", answer.Members, answer.Season.MS)
	}
	if out, _, err = rehearsed(t, c, false); err != nil || strings.Count(out, "   met") != 9 {
		t.Errorf("table %q, %v", out, err)
	}
}

// The table of targets is one command; what it walked is kept, and another question is refused the same file.
func TestRehearseTargets(t *testing.T) {
	c := rehearseCmd{Days: 1, Seed: 2000, Stage: "late", Party: 1, Aim: "numbers", Targets: true, Parts: []string{"flat"}, Keep: filepath.Join(t.TempDir(), "kept")}
	first, _, err := rehearsed(t, c, false)
	if err != nil || !strings.Contains(first, "fish over spiral-rule, flat ground") {
		t.Fatalf("table %q, %v", first, err)
	}
	kept, err := os.ReadFile(c.Keep)
	if err != nil || bytes.Count(kept, []byte{'\n'}) != 2 {
		t.Errorf("kept %q, %v", kept, err)
	}
	if again, _, err := rehearsed(t, c, false); err != nil || again != first {
		t.Errorf("the second time %q, %v", again, err)
	}
	c.Seed++
	var f *fault.Error
	if _, _, err = rehearsed(t, c, false); !errors.As(err, &f) || f.Code != fault.BadInput {
		t.Errorf("days of another seed were taken: %v", err)
	}
}

// A run that is ended says how to go on.
func TestRehearseEnded(t *testing.T) {
	ctx, end := context.WithCancel(t.Context())
	end()
	var o, e bytes.Buffer
	c := rehearseCmd{Days: 1, Seed: 2000, Stage: "late", Party: 1, Aim: "numbers", Ways: []string{"rule"}, Keep: filepath.Join(t.TempDir(), "kept")}
	err := c.Run(ctx, &Globals{env: Env{Out: &o, Err: &e}})
	var f *fault.Error
	if !errors.As(err, &f) || !strings.Contains(f.Hint, "goes on") || o.Len() > 0 {
		t.Errorf("ended: %v, printed %q", err, o.String())
	}
}
