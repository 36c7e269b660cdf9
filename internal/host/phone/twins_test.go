//go:build !js

package phone

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
)

// TestTwins: the native program and the one built for the browser fold the same random records to the same views, numbers
// to a part in 10^9, and give the same advice on some of them. The second one runs under Node, which Go brings a runner for.
func TestTwins(t *testing.T) {
	if testing.Short() {
		t.Skip("it builds a program for the browser")
	}
	node, err := exec.LookPath("node")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("no node found, and CI must compare both programs")
		}
		t.Skip("no node found: install it to compare both programs")
	}
	records, advised := 500, 4
	if os.Getenv("ICEHAND_SOAK") != "" {
		records, advised = 10_000, 100
	}
	dir := t.TempDir()
	binary, from, to := filepath.Join(dir, "test.wasm"), filepath.Join(dir, "records"), filepath.Join(dir, "views")
	build := exec.Command("go", "test", "-c", "-o", binary, ".")
	build.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	var all bytes.Buffer
	var want []string
	for i := range records {
		record := twinJournal(t, uint64(i), i < advised)
		all.Write(record)
		all.WriteString(parted)
		want = append(want, twinView(t, record, i < advised))
	}
	if err := os.WriteFile(from, all.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	run := exec.Command(node, "--stack-size=8192", filepath.Join(runtime.GOROOT(), "lib/wasm/wasm_exec_node.js"), binary, "-test.run=TestTwinViews$", "-test.timeout=20m")
	run.Env = []string{"ICEHAND_TWINS=" + from, "ICEHAND_TWIN_VIEWS=" + to, fmt.Sprint("ICEHAND_TWINS_ADVISED=", advised), "PATH=" + os.Getenv("PATH"), "HOME=" + dir}
	if out, err := run.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	b, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	got := strings.Split(strings.TrimSuffix(string(b), parted), parted)
	if len(got) != records {
		t.Fatalf("%d views of %d records", len(got), records)
	}
	floats := 0
	for i := range want {
		w, g := strings.Fields(want[i]), strings.Fields(got[i])
		if len(w) != len(g) {
			t.Fatalf("record %d: %d words, want %d", i, len(g), len(w))
		}
		for k := range w {
			if w[k] == g[k] {
				continue
			}
			x, e1 := strconv.ParseFloat(w[k], 64)
			y, e2 := strconv.ParseFloat(g[k], 64)
			if e1 != nil || e2 != nil || math.Abs(x-y) > 1e-9*(1+math.Abs(x)) {
				t.Fatalf("record %d, word %d: %s in the browser's program, %s in the native one", i, k, g[k], w[k])
			}
			floats++
		}
	}
	t.Logf("%d records alike, %d advised upon; %d numbers differ in their last bits", records, advised, floats)
}
