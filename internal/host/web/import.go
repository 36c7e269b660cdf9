package web

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
	"icehand/internal/host/intake"
	"icehand/internal/trade/journal"
)

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

func (h *handler) importForm(w http.ResponseWriter, r *http.Request, v *visit) error {
	view := importView{Kinds: importKinds, HasLake: v.lake}
	if n := r.URL.Query().Get("written"); n != "" && len(n) < 9 {
		view.Written = "Written: " + n + " entries that were not on record."
	}
	return h.show(w, r, v, http.StatusOK, "Import", importPage(view))
}

// postImport reads an uploaded file for its preview, or writes the one that was accepted.
func (h *handler) postImport(w http.ResponseWriter, r *http.Request, v *visit) error {
	if !strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data") {
		return h.acceptImport(w, r, v)
	}
	if err := r.ParseMultipartForm(memoryOfForm); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return fault.New(fault.BadInput, "Take the command instead: icehand import FILE.", "the file is larger than this page takes")
		}
		return fault.Wrap(err, fault.BadInput, "Choose the file again.", "the upload could not be read")
	}
	defer r.MultipartForm.RemoveAll() // leftovers of the upload do no harm
	f, head, err := r.FormFile("file")
	if err != nil {
		return fault.Wrap(err, fault.BadInput, "Choose a file first.", "no file was sent")
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, file.MaxBytes+1))
	if err != nil {
		return fault.Wrap(err, fault.BadInput, "Choose the file again.", "the upload could not be read")
	}
	in := importOptions{As: r.PostForm.Get("as"), Unit: r.PostForm.Get("unit"), Zone: r.PostForm.Get("tz"), UTM: r.PostForm.Get("utm"), Columns: r.PostForm.Get("columns")}
	opt, err := in.options()
	if err != nil {
		return err
	}
	plan, err := intake.Read(r.Context(), h.Desk, head.Filename, data, opt)
	view := importView{Kinds: importKinds, HasLake: v.lake, Options: in, Preview: previewOf(plan)}
	if err != nil {
		p := fault.Public(err)
		if p.Code == fault.Internal {
			return err
		}
		view.Preview.Refusal, view.Preview.Hint = sentence(p.Message), p.Hint
		return h.show(w, r, v, http.StatusOK, "Import", importPage(view))
	}
	view.Preview.Token = h.hold(plan)
	return h.show(w, r, v, http.StatusOK, "Import", importPage(view))
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
func (h *handler) hold(p *intake.Plan) string {
	h.held.mu.Lock()
	defer h.held.mu.Unlock()
	h.held.plan, h.held.token, h.held.until = p, journal.NewID().String(), h.Desk.Clock().Add(holdFor)
	return h.held.token
}

// acceptImport writes the file that is held.
func (h *handler) acceptImport(w http.ResponseWriter, r *http.Request, _ *visit) error {
	if err := parseForm(r); err != nil {
		return err
	}
	h.held.mu.Lock()
	defer h.held.mu.Unlock()
	if h.held.plan == nil || r.PostForm.Get("token") != h.held.token || h.Desk.Clock().After(h.held.until) {
		return fault.New(fault.NotFound, "Choose the file again.", "the file is not held any more")
	}
	n, err := intake.Commit(r.Context(), h.Desk, h.held.plan)
	if err != nil {
		return err
	}
	h.held.plan = nil
	return back(w, r, fmt.Sprintf("/import?written=%d", n))
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
