package cli

import (
	"context"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"icehand/internal/engine/safety"
	"icehand/internal/keep/sqlite"
)

// serving starts a server on the machine's record until the test is over, and gives its address.
func (m *machine) serving() (address string) {
	m.t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	served := make(chan int, 1)
	server := m.env
	server.Out, server.Err = io.Discard, io.Discard
	go func() { served <- Run(ctx, []string{"serve", "--addr", "127.0.0.1:0"}, server) }()
	m.t.Cleanup(func() {
		stop()
		if status := <-served; status != exitAnswered {
			m.t.Errorf("serve ended with %d", status)
		}
	})
	for deadline := time.Now().Add(20 * time.Second); time.Now().Before(deadline); time.Sleep(20 * time.Millisecond) {
		if h, ok := sqlite.HolderOf(m.env.Home); ok && h.Address != "" {
			return h.Address
		}
	}
	m.t.Fatal("the server did not say where it listens")
	return ""
}

// A writing command goes to the server that holds the record, and the server's pages see what it wrote.
func TestImportThroughTheRunningServer(t *testing.T) {
	m := newMachine(t, "2026-01-14T22:00:00Z")
	m.must("import", examples+"outline.geojson", "--tz", "Etc/GMT+3", "--yes")
	address := m.serving()
	var r struct {
		Files []struct {
			New     int `json:"new_entries"`
			Written int `json:"written_entries"`
		}
	}
	m.object(&r, "import", examples+"soundings.csv", examples+"hole-log.csv", "--yes")
	for _, f := range r.Files {
		if f.Written == 0 {
			t.Errorf("%+v", r)
		}
	}
	if status := m.run("import", examples+"soundings.csv", "--map", "Nonsense", "--yes"); status != exitUsage || !strings.Contains(m.err.String(), "hint:") {
		t.Errorf("exit status %d: %s", status, m.err.String())
	}
	m.must("trip", "--date", "2026-01-15", "--landing", "47.878, -45.042", "--ashore", "16:30", "--drill", "30 m")
	if status := m.run("trip", "--landing", "nowhere"); status != exitUsage || !strings.Contains(m.err.String(), "hint:") {
		t.Errorf("a landing that is no place: %d %s", status, m.err.String())
	}
	if out := m.must("evening", "--date", "2026-01-15"); !strings.Contains(out, "from the landing") { // reads beside the server
		t.Errorf("the trip sent to the server is not in the plan:\n%s", out)
	}
	for _, c := range []struct {
		write, read []string
		holds       string
	}{
		{[]string{"aim", "size"}, []string{"aim"}, "good"},
		{[]string{"depths", "9 m", "12 m", "--stage", "mid"}, []string{"depths"}, "9"},
		{[]string{"ice", "--strength", "2.5"}, []string{"export", "ndjson"}, `"ice_a_g_cm2","value":2500`},
		{[]string{"ice", "--table", safety.Tables()[1].Agency, "--by", "Ingrid Vossler"}, []string{"ice", "--json"}, safety.Tables()[1].Agency},
		{[]string{"light", "--depth", "9 m", "--clarity", "4 m", "--save"}, []string{"export", "ndjson"}, `"clarity_mm","value":4000`},
	} {
		before := m.must(c.read...)
		if strings.Contains(before, c.holds) {
			t.Errorf("%v told %q already:\n%s", c.read, c.holds, before)
		}
		m.must(c.write...)
		if after := m.must(c.read...); !strings.Contains(after, c.holds) {
			t.Errorf("%v was sent to the server, and %v does not tell %q:\n%s", c.write, c.read, c.holds, after)
		}
	}
	res, err := http.Get(address + "/evening?day=2026-01-15")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	page, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK || !strings.Contains(string(page), "Evening plan") {
		t.Errorf("%d %v", res.StatusCode, err)
	}
	// a page of another site cannot write
	req, err := http.NewRequest(http.MethodPost, address+"/local/import?name=x&commit=yes", strings.NewReader("{}"))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Sec-Fetch-Site", "cross-site")
	req.Header.Set("Origin", "https://elsewhere.example")
	other, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	other.Body.Close()
	if other.StatusCode != http.StatusForbidden {
		t.Errorf("a cross-site write was answered %d", other.StatusCode)
	}
}

// A name on the net, and what goes with it, is refused with what to write before anything is opened.
func TestServeRefusesWhatIsNoName(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:00:00Z")
	for _, c := range []struct{ args, says, hint string }{
		{"--domain guide", "is no name on the net", "Write the name alone"},
		{"--domain https://guide.example.org", "is no name on the net", "Write the name alone"},
		{"--domain 192.0.2.7", "is no name on the net", "Write the name alone"},
		{"--behind-proxy", "--behind-proxy goes with a domain", "Add --domain NAME."},
		{"--authority https://ca.example.org/dir", "--authority goes with a domain", "Add --domain NAME."},
		{"--domain guide.example.org --authority ca.example.org", "names no authority to ask", "Write the whole address"},
		{"--domain guide.example.org --authority http://ca.example.org/dir", "names no authority to ask", "Write the whole address"},
		{"--domain guide.example.org --behind-proxy --authority https://ca.example.org/dir", "names no authority to ask", "leave --behind-proxy out"},
	} {
		status := m.run(append([]string{"serve"}, strings.Fields(c.args)...)...)
		if said := m.err.String(); status != exitUsage || !strings.Contains(said, c.says) || !strings.Contains(said, c.hint) {
			t.Errorf("serve %s: status %d, %q", c.args, status, said)
		}
	}
}
