package cli

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/feed/file"
	"icehand/internal/host/desk"
	"icehand/internal/host/intake"
	"icehand/internal/keep/sqlite"
)

type importCmd struct {
	Files []string          `arg:"" help:"Files to read." placeholder:"FILE"`
	Yes   bool              `short:"y" help:"Write without asking."`
	As    string            `help:"What the file is: outline, soundings, holes, weather or station; else it is recognised." placeholder:"KIND"`
	Unit  string            `help:"Unit of depths that the file does not state: ft or m." placeholder:"UNIT"`
	Map   map[string]string `help:"What a column means: --map Z=depth; repeat for more." placeholder:"HEADER=MEANING"`
	UTM   string            `name:"utm" help:"UTM zone of eastings and northings: 23T or 23N." placeholder:"ZONE"`
	TZ    string            `name:"tz" help:"Zone of times without one, a name of the IANA list; needed once for a new lake." placeholder:"ZONE"`
}

func (c importCmd) options() (file.Options, error) {
	o := file.Options{As: file.Kind(c.As), Unit: c.Unit, Map: c.Map, UTMZone: c.UTM}
	if c.TZ != "" {
		zone, err := time.LoadLocation(c.TZ)
		if err != nil || c.TZ == "Local" {
			return o, fault.New(fault.BadInput, "Use a name of the IANA list, for example Etc/GMT+3 or America/Chicago.", "%q is not the name of a time zone", c.TZ)
		}
		o.Zone = zone
	}
	return o, nil
}

// reader reads and commits one file, here or on the running server.
type reader interface {
	preview(ctx context.Context, name string, data []byte, opt file.Options) (*planReport, error)
	commit(ctx context.Context, name string, data []byte, opt file.Options) (*planReport, error)
}

// importGC makes the garbage collector run when memory has grown by a third instead of twofold: a file of many rows lies in
// memory as rows and entries.
const importGC = 33

func (c importCmd) Run(ctx context.Context, g *Globals) error {
	defer debug.SetGCPercent(debug.SetGCPercent(importGC))
	opt, err := c.options()
	if err != nil {
		return err
	}
	r, done, err := g.reader(ctx)
	if err != nil {
		return err
	}
	defer done()
	var reports []*planReport
	for _, path := range c.Files {
		name, data, err := readWithCompanions(path)
		if err != nil {
			return err
		}
		rep, err := c.one(ctx, g, r, name, data, opt)
		if rep != nil {
			reports = append(reports, rep)
		}
		if err != nil {
			if g.JSON {
				_ = g.printJSON(map[string]any{"files": reports})
			}
			return err
		}
	}
	if g.JSON {
		return g.printJSON(map[string]any{"files": reports})
	}
	return nil
}

func (c importCmd) one(ctx context.Context, g *Globals, r reader, name string, data []byte, opt file.Options) (*planReport, error) {
	rep, err := r.preview(ctx, name, data, opt)
	if rep != nil && rep.Kind != "" && !g.JSON {
		rep.print(g)
	}
	if err != nil || rep.New == 0 {
		return rep, err
	}
	if !c.Yes {
		if g.JSON || !g.env.Terminal {
			return rep, fault.New(fault.BadInput, "Look at the preview, then repeat with --yes.", "nothing was written")
		}
		fmt.Fprintf(g.env.Err, "Write %d new entries? [y/N] ", rep.New)
		line, err := bufio.NewReader(g.env.In).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return rep, fmt.Errorf("cli: reading the answer: %w", err)
		}
		if a := strings.ToLower(strings.TrimSpace(line)); a != "y" && a != "yes" {
			g.say("nothing was written")
			return rep, nil
		}
	}
	rep, err = r.commit(ctx, name, data, opt)
	if err == nil && !g.JSON {
		g.say("%s: wrote %d entries", rep.Name, rep.Written)
	}
	return rep, err
}

// readFile reads a file with the cap of the feeds, so that a wrong file is not read whole.
func readFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fault.Wrap(err, fault.NotFound, "Check the name of the file.", "%s cannot be read", path)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, file.MaxBytes+1))
	if err != nil {
		return nil, fault.Wrap(err, fault.BadInput, "Name a file, not a folder.", "%s cannot be read", path)
	}
	return data, nil
}

// readWithCompanions reads a file. A shapefile or a grid with a .prj beside it is put into a zip file with its companions,
// so that what belongs together is kept together. Equal files give an equal zip file.
func readWithCompanions(path string) (name string, data []byte, err error) {
	name = filepath.Base(path)
	if data, err = readFile(path); err != nil {
		return "", nil, err
	}
	ext := filepath.Ext(path)
	type part struct {
		name string
		data []byte
	}
	parts := []part{{name, data}}
	for _, e := range map[string][]string{".shp": {".dbf", ".prj"}, ".asc": {".prj"}}[strings.ToLower(ext)] {
		if ext == strings.ToUpper(ext) {
			e = strings.ToUpper(e)
		}
		companion := strings.TrimSuffix(path, ext) + e
		if _, err := os.Stat(companion); err != nil {
			continue // not there: the reader says what it misses
		}
		more, err := readFile(companion)
		if err != nil {
			return "", nil, err
		}
		parts = append(parts, part{filepath.Base(companion), more})
	}
	if len(parts) == 1 {
		return name, data, nil
	}
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, p := range parts {
		f, err := w.Create(p.name)
		if err == nil {
			_, err = f.Write(p.data)
		}
		if err != nil {
			return "", nil, fmt.Errorf("cli: putting %s together: %w", name, err)
		}
	}
	if err := w.Close(); err != nil {
		return "", nil, fmt.Errorf("cli: putting %s together: %w", name, err)
	}
	return name, b.Bytes(), nil
}

// reader gives the way to write: this process, or the server that holds the record.
func (g *Globals) reader(ctx context.Context) (reader, func(), error) {
	s, err := g.write(ctx)
	if err == nil {
		return &local{s: s}, s.close, nil
	}
	if holder, ok := sqlite.HolderOf(g.Data); ok && holder.Address != "" && fault.CodeOf(err) == fault.Conflict {
		return remote{base: holder.Address}, func() {}, nil
	}
	return nil, nil, err
}

// local works on the record itself.
type local struct {
	s     *session
	shown *intake.Plan // what the last preview showed; only that is written
}

func (l *local) preview(ctx context.Context, name string, data []byte, opt file.Options) (*planReport, error) {
	p, err := intake.Read(ctx, l.s.Desk, name, data, opt)
	l.shown = nil
	if err == nil {
		l.shown = p
	}
	return newPlanReport(p, 0), err
}

// commit writes what the preview of the file showed: this process holds the record, so nobody has written since.
func (l *local) commit(ctx context.Context, name string, data []byte, opt file.Options) (*planReport, error) {
	p := l.shown
	if p == nil {
		return commitFile(ctx, l.s.Desk, name, data, opt)
	}
	l.shown = nil
	n, err := intake.Commit(ctx, l.s.Desk, p)
	return newPlanReport(p, n), err
}

func commitFile(ctx context.Context, d *desk.Desk, name string, data []byte, opt file.Options) (*planReport, error) {
	p, err := intake.Read(ctx, d, name, data, opt)
	if err != nil {
		return newPlanReport(p, 0), err
	}
	n, err := intake.Commit(ctx, d, p)
	return newPlanReport(p, n), err
}

// remote works through the running server on this machine.
type remote struct{ base string }

func (r remote) preview(ctx context.Context, name string, data []byte, opt file.Options) (*planReport, error) {
	return r.post(ctx, name, data, opt, false)
}

func (r remote) commit(ctx context.Context, name string, data []byte, opt file.Options) (*planReport, error) {
	return r.post(ctx, name, data, opt, true)
}

func (r remote) post(ctx context.Context, name string, data []byte, opt file.Options, commit bool) (*planReport, error) {
	q := url.Values{"name": {name}, "options": {desk.FormatOptions(opt)}}
	if commit {
		q.Set("commit", "yes")
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, strings.TrimRight(r.base, "/")+"/local/import?"+q.Encode(), bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("cli: asking the server: %w", err)
	}
	req.Header.Set("Content-Type", "application/octet-stream")
	res, err := (&http.Client{Timeout: 2 * time.Minute}).Do(req)
	if err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "Stop that server and repeat.", "the server that holds the record does not answer")
	}
	defer res.Body.Close()
	var answer importAnswer
	if err := json.NewDecoder(io.LimitReader(res.Body, 64<<20)).Decode(&answer); err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "Stop that server and repeat.", "the server's answer cannot be read")
	}
	if e := answer.Error; e != nil {
		return answer.Plan, &fault.Error{Code: e.Code, Message: e.Message, Hint: e.Hint}
	}
	return answer.Plan, nil
}

// importAnswer is what /local/import answers.
type importAnswer struct {
	Plan  *planReport `json:"plan,omitempty"`
	Error *wireFault  `json:"error,omitempty"`
}

type wireFault struct {
	Code    fault.Code `json:"code"`
	Message string     `json:"message"`
	Hint    string     `json:"hint,omitempty"`
}

// localImport serves /local/import to commands on this machine.
func localImport(d *desk.Desk) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		plan, err := serveImport(d, w, r)
		answerLocal(w, importAnswer{Plan: plan}, err)
	})
}

// answerLocal writes an answer, or the fault, to a command on this machine.
func answerLocal(w http.ResponseWriter, answer importAnswer, err error) {
	w.Header().Set("Content-Type", "application/json")
	if err != nil {
		f := fault.Public(err)
		answer.Error = &wireFault{f.Code, f.Message, f.Hint}
		w.WriteHeader(http.StatusBadRequest)
	}
	_ = json.NewEncoder(w).Encode(answer) // the client has gone; nothing to do
}

func serveImport(d *desk.Desk, w http.ResponseWriter, r *http.Request) (*planReport, error) {
	opt, err := desk.ParseOptions(r.URL.Query().Get("options"))
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(http.MaxBytesReader(w, r.Body, file.MaxBytes+1))
	if err != nil {
		return nil, fault.Wrap(err, fault.BadInput, "Split the file.", "the file is too large")
	}
	if r.URL.Query().Get("commit") == "yes" {
		return commitFile(r.Context(), d, r.URL.Query().Get("name"), data, opt)
	}
	p, err := intake.Read(r.Context(), d, r.URL.Query().Get("name"), data, opt)
	return newPlanReport(p, 0), err
}

// planReport is a preview as printed and sent.
type planReport struct {
	Name       string          `json:"name"`
	Kind       string          `json:"kind"`
	Rows       int             `json:"rows"`
	Taken      int             `json:"taken"`
	Refused    int             `json:"refused"`
	Duplicates int             `json:"duplicates"`
	Blank      int             `json:"blank"`
	New        int             `json:"new_entries"`
	Held       int             `json:"held_entries"`
	Written    int             `json:"written_entries"`
	Summary    []string        `json:"summary"`
	Columns    []columnReport  `json:"columns"`
	Problems   []problemReport `json:"problems"`
	Unlisted   int             `json:"unlisted_problems"`
}

type columnReport struct {
	Header  string `json:"header"`
	Meaning string `json:"meaning"`
	Unit    string `json:"unit,omitempty"`
	Why     string `json:"why,omitempty"`
}

type problemReport struct {
	Severity string `json:"severity"`
	Row      int    `json:"row"`
	Column   string `json:"column,omitempty"`
	Value    string `json:"value,omitempty"`
	Reason   string `json:"reason"`
	Mend     string `json:"mend,omitempty"`
}

func newPlanReport(p *intake.Plan, written int) *planReport {
	if p == nil {
		return nil
	}
	v := p.Preview
	r := &planReport{Name: p.Name, Kind: string(v.Kind), Rows: v.Rows, Taken: v.Taken, Refused: v.Refused, Duplicates: v.Duplicates, Blank: v.Blank,
		New: p.New(), Held: p.Held, Written: written, Summary: v.Summary, Columns: []columnReport{}, Problems: []problemReport{}, Unlisted: v.Unlisted}
	if r.Summary == nil {
		r.Summary = []string{}
	}
	for _, c := range v.Columns {
		r.Columns = append(r.Columns, columnReport{c.Header, c.Meaning, c.Unit, c.Why})
	}
	for _, x := range v.Problems {
		r.Problems = append(r.Problems, problemReport{string(x.Severity), x.Row, x.Column, x.Value, x.Reason, x.Mend})
	}
	return r
}

// mostShown bounds the problems that a preview prints; --json lists them all.
const mostShown = 40

func (r *planReport) print(g *Globals) {
	g.say("%s: %s, %d rows: %d taken, %d refused, %d said twice, %d blank", r.Name, r.Kind, r.Rows, r.Taken, r.Refused, r.Duplicates, r.Blank)
	for _, s := range r.Summary {
		g.say("  %s", s)
	}
	for _, c := range r.Columns {
		if c.Meaning == "" || c.Meaning == string(file.Ignore) {
			g.say("  column %q: ignored", c.Header)
			continue
		}
		unit := ""
		if c.Unit != "" {
			unit = ", " + c.Unit
		}
		g.say("  column %q: %s%s", c.Header, c.Meaning, unit)
	}
	for i, p := range r.Problems {
		if i == mostShown {
			g.say("  ... and %d more; --json lists them all", len(r.Problems)-mostShown+r.Unlisted)
			break
		}
		where := p.Severity
		if p.Row > 0 {
			where += fmt.Sprintf(", row %d", p.Row)
		}
		if p.Column != "" {
			where += ", " + p.Column
		}
		if p.Value != "" {
			where += fmt.Sprintf(" %q", p.Value)
		}
		mend := ""
		if p.Mend != "" {
			mend = ". " + p.Mend
		}
		g.say("  %s: %s%s", where, p.Reason, mend)
	}
	switch {
	case r.New == 0 && r.Held > 0:
		g.say("  nothing new: all %d entries are on record already", r.Held)
	case r.Held > 0:
		g.say("  %d entries are new, %d are on record already", r.New, r.Held)
	}
}
