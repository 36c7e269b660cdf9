// Package importing is the server's page that takes files in: outlines, soundings, hole logs, forecasts.
//
// Start with [New]; its Extras go to package web, as those of every page that the phone does not carry: the readers of
// files weigh a good part of a program, and files come in ashore.
// It holds one file for acceptance and writes nothing before. What a file means is package intake's to say.
package importing

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/feed/file"
	"icehand/internal/host/desk"
	"icehand/internal/host/intake"
	"icehand/internal/host/web"
	"icehand/internal/trade/journal"
)

// Pages is the page Import with the file that it holds.
type Pages struct {
	desk *desk.Desk
	held held
}

// New makes the page on a desk.
func New(d *desk.Desk) *Pages { return &Pages{desk: d} }

// Path is where the page is found.
const Path = "/import"

// Extras are the page's addresses.
func (p *Pages) Extras() []web.Extra {
	return []web.Extra{{Pattern: "GET " + Path, Answer: p.form}, {Pattern: "POST " + Path, Answer: p.post}}
}

// optionView is one thing to choose.
type optionView struct{ Value, Word string }

// importView is the page Import: a form, or the preview of a file with what would be written.
type importView struct {
	Kinds    []optionView
	Preview  *previewView
	Written  string
	Options  importOptions
	HasLake  bool
	Accepted string
}

// importOptions are what the user added to a file, shown again so that it can be mended.
type importOptions struct{ As, Unit, Zone, UTM, Columns string }

// previewView is what an import would do.
type previewView struct {
	Title, Counts, Refusal, Hint string
	Summary                      []string
	Columns                      []string
	Problems                     []problemView
	More                         string
	Token                        string // names the file that is held for acceptance; "" when it cannot be accepted
	Accept                       string
}

type problemView struct{ Where, Reason, Mend string }

// held is the one file that waits for acceptance. Nothing of it is written before.
type held struct {
	mu    sync.Mutex
	plan  *intake.Plan
	token string
	until time.Time
}

const (
	holdFor      = 30 * time.Minute
	mostProblems = 60 // listed on the page
	memoryOfForm = 8 << 20
)

// importKinds lists what a file may be.
var importKinds = []optionView{{Value: "", Word: "find out"}, {Value: string(file.Outline), Word: "lake outline"}, {Value: string(file.Soundings), Word: "soundings"},
	{Value: string(file.Holes), Word: "hole log"}, {Value: string(file.Weather), Word: "forecast"}}

// form shows the form, and after an import what was written.
func (p *Pages) form(r *http.Request, _ web.Visitor) (web.Answer, error) {
	view := importView{Kinds: importKinds, HasLake: p.lake(r)}
	if n := r.URL.Query().Get("written"); n != "" && len(n) < 9 {
		view.Written = "Written: " + n + " entries that were not on record."
	}
	return shown(view), nil
}

// shown is the page as it stands.
func shown(view importView) web.Answer {
	return web.Answer{Title: "Import", Body: importPage(view)}
}

// lake tells whether one is on record.
func (p *Pages) lake(r *http.Request) (known bool) {
	_ = p.desk.Read(r.Context(), func(d desk.View) error { // its failure shows in the page's frame
		known = d.Lake.Known
		return nil
	})
	return known
}

// post reads an uploaded file for its preview, or writes the one that was accepted.
func (p *Pages) post(r *http.Request, _ web.Visitor) (web.Answer, error) {
	if !strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data") {
		return p.accept(r)
	}
	if err := r.ParseMultipartForm(memoryOfForm); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return web.Answer{}, fault.New(fault.BadInput, "Take the command instead: icehand import FILE.", "the file is larger than this page takes")
		}
		return web.Answer{}, fault.Wrap(err, fault.BadInput, "Choose the file again.", "the upload could not be read")
	}
	defer r.MultipartForm.RemoveAll() // leftovers of the upload do no harm
	f, head, err := r.FormFile("file")
	if err != nil {
		return web.Answer{}, fault.Wrap(err, fault.BadInput, "Choose a file first.", "no file was sent")
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, file.MaxBytes+1))
	if err != nil {
		return web.Answer{}, fault.Wrap(err, fault.BadInput, "Choose the file again.", "the upload could not be read")
	}
	in := importOptions{As: r.PostForm.Get("as"), Unit: r.PostForm.Get("unit"), Zone: r.PostForm.Get("tz"), UTM: r.PostForm.Get("utm"), Columns: r.PostForm.Get("columns")}
	opt, err := in.options()
	if err != nil {
		return web.Answer{}, err
	}
	plan, err := intake.Read(r.Context(), p.desk, head.Filename, data, opt)
	view := importView{Kinds: importKinds, HasLake: p.lake(r), Options: in, Preview: previewOf(plan)}
	if err != nil {
		f := fault.Public(err)
		if f.Code == fault.Internal {
			return web.Answer{}, err
		}
		view.Preview.Refusal, view.Preview.Hint = web.Sentence(f.Message), f.Hint
		return shown(view), nil
	}
	view.Preview.Token = p.hold(plan)
	return shown(view), nil
}

// options brings the form's words into those of the readers.
func (o importOptions) options() (file.Options, error) {
	out := file.Options{As: file.Kind(o.As), Unit: o.Unit, UTMZone: o.UTM}
	if o.Zone != "" {
		zone, err := time.LoadLocation(o.Zone)
		if err != nil {
			return out, fault.New(fault.BadInput, "Name a zone of the IANA list, for example Etc/GMT+3.", "%q is not the name of a time zone", o.Zone)
		}
		out.Zone = zone
	}
	for _, line := range strings.FieldsFunc(o.Columns, func(r rune) bool { return r == '\n' || r == '\r' }) {
		header, meaning, ok := strings.Cut(line, "=")
		if !ok {
			return out, fault.New(fault.BadInput, "Write one column a line: Z = depth:ft", "%q names no meaning", file.Short(line))
		}
		if out.Map == nil {
			out.Map = map[string]string{}
		}
		out.Map[strings.TrimSpace(header)] = strings.TrimSpace(meaning)
	}
	return out, nil
}

// hold keeps a plan for acceptance in place of any earlier one.
func (p *Pages) hold(plan *intake.Plan) string {
	p.held.mu.Lock()
	defer p.held.mu.Unlock()
	p.held.plan, p.held.token, p.held.until = plan, journal.NewID().String(), p.desk.Clock().Add(holdFor)
	return p.held.token
}

// accept writes the file that is held.
func (p *Pages) accept(r *http.Request) (web.Answer, error) {
	if err := web.ParseForm(r); err != nil {
		return web.Answer{}, err
	}
	p.held.mu.Lock()
	defer p.held.mu.Unlock()
	if p.held.plan == nil || r.PostForm.Get("token") != p.held.token || p.desk.Clock().After(p.held.until) {
		return web.Answer{}, fault.New(fault.NotFound, "Choose the file again.", "the file is not held any more")
	}
	n, err := intake.Commit(r.Context(), p.desk, p.held.plan)
	if err != nil {
		return web.Answer{}, err
	}
	p.held.plan = nil
	return web.Answer{To: fmt.Sprintf("%s?written=%d", Path, n)}, nil
}

// previewOf shows a plan.
func previewOf(p *intake.Plan) *previewView {
	x := p.Preview
	out := &previewView{Title: p.Name, Summary: x.Summary,
		Counts: fmt.Sprintf("%d rows: %d taken, %d refused, %d repeats, %d blank.", x.Rows, x.Taken, x.Refused, x.Duplicates, x.Blank),
		Accept: fmt.Sprintf("Write %d new entries", p.New())}
	for _, c := range x.Columns {
		meaning := c.Meaning
		if meaning == "" {
			meaning = "left out"
		}
		if c.Unit != "" {
			meaning += " in " + c.Unit
		}
		out.Columns = append(out.Columns, c.Header+": "+meaning)
	}
	for i, q := range x.Problems {
		if i == mostProblems {
			out.More = fmt.Sprintf("%d more; icehand import lists all.", len(x.Problems)-i+x.Unlisted)
			break
		}
		where := "the file"
		if q.Row > 0 {
			where = fmt.Sprintf("row %d", q.Row)
		}
		if q.Column != "" {
			where += ", " + q.Column
		}
		if q.Value != "" {
			where += " (" + q.Value + ")"
		}
		reason := q.Reason
		if q.Severity == file.Refused {
			reason = "refused: " + reason
		}
		out.Problems = append(out.Problems, problemView{where, reason, q.Mend})
	}
	return out
}
