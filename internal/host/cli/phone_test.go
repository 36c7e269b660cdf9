package cli

import (
	"path/filepath"
	"strings"
	"testing"
)

// TestSyncThroughTheRunningServer: two machines and a key; what each recorded is on both afterwards, a key that was ended
// opens nothing, and nobody's key travels unencrypted.
func TestSyncThroughTheRunningServer(t *testing.T) {
	m := newMachine(t, "2026-01-14T22:00:00Z")
	m.must("import", examples+"outline.geojson", "--tz", "Etc/GMT+3", "--yes")
	var added struct{ Name, Key string }
	m.object(&added, "phone", "add", "red phone")
	if len(added.Key) != 39 || added.Name != "red phone" {
		t.Fatalf("%+v", added)
	}
	address := m.serving()
	other := newMachine(t, "2026-01-14T22:00:00Z")
	other.env.Getenv = func(name string) string { return map[string]string{"ICEHAND_SYNC_KEY": added.Key}[name] }
	other.must("import", examples+"outline.geojson", "--tz", "Etc/GMT+3", "--yes")
	other.must("import", examples+"hole-log.csv", "--yes")
	var r struct{ Sent, Received, Waiting int }
	other.object(&r, "sync", address)
	if r.Sent == 0 || r.Received == 0 || r.Waiting != 0 {
		t.Errorf("%+v", r)
	}
	if out := other.must("sync", address); !strings.Contains(out, "in step: 0 entries sent, 0 received") {
		t.Errorf("the second time: %s", out)
	}
	if a, b := m.must("export", "ndjson"), other.must("export", "ndjson"); strings.Count(a, "\n") != strings.Count(b, "\n") {
		t.Errorf("one machine holds %d lines, the other %d", strings.Count(a, "\n"), strings.Count(b, "\n"))
	}
	if out := m.must("phone"); !strings.Contains(out, "red phone: added 2026-01-14, heard from ") {
		t.Errorf("phones: %s", out)
	}
	m.must("phone", "end", "red phone")
	if status := other.run("sync", address); status != exitConflict || !strings.Contains(other.err.String(), "ended this key") {
		t.Errorf("an ended key: %d %s", status, other.err.String())
	}
	for _, c := range []struct {
		args []string
		want int
	}{
		{[]string{"sync", "http://192.168.1.2:8420"}, exitUsage}, {[]string{"sync", "nowhere"}, exitUsage}, {[]string{"phone", "add", ""}, exitUsage}, {[]string{"phone", "end", "nobody"}, exitMissing},
		{[]string{"phone", "add", "x", "--data", filepath.Join(t.TempDir(), "none")}, exitMissing}, {[]string{"sync", address, "--key", "wrong"}, exitMissing},
	} {
		if status := other.run(c.args...); status != c.want || !strings.Contains(other.err.String(), "hint:") {
			t.Errorf("%v: %d, want %d: %s", c.args, status, c.want, other.err.String())
		}
	}
	other.env.Getenv = func(string) string { return "" }
	if status := other.run("sync", address); status != exitUsage {
		t.Errorf("no key: %d", status)
	}
}
