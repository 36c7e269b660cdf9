package rules

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"icehand/internal/base/fault"
	"icehand/internal/trade/journal"
)

// Problem is what is wrong with a book, on which lines, and how to mend it.
type Problem struct {
	Lines []int // one, or the two that contradict each other
	Text  string
	Hint  string
}

func (p Problem) String() string {
	switch len(p.Lines) {
	case 0:
		return p.Text
	case 1:
		return fmt.Sprintf("line %d: %s", p.Lines[0], p.Text)
	}
	return fmt.Sprintf("lines %d and %d contradict each other: %s", p.Lines[0], p.Lines[1], p.Text)
}

// Fault makes one error of all that is wrong; nil when nothing is.
func Fault(problems []Problem) error {
	if len(problems) == 0 {
		return nil
	}
	var all []string
	for _, p := range problems[:min(len(problems), 5)] {
		all = append(all, p.String())
	}
	if n := len(problems) - len(all); n > 0 {
		all = append(all, fmt.Sprintf("and %d more", n))
	}
	return fault.New(fault.BadInput, problems[0].Hint, "the rule book is refused: %s", strings.Join(all, "; "))
}

// mostLines and mostLine bound a book: a longer one is some other file.
const (
	mostLines = 500
	mostLine  = 400 // bytes
	mostProbs = 50
)

// Read reads a rule book: a line a rule, as word, subject, colon, value, and the place in the source text in brackets. It gives
// everything that is wrong; a book with a problem must not be used.
func Read(text string) (Book, []Problem) {
	var b Book
	var problems []Problem
	headers := map[string]int{}
	n := 0
	for line := range strings.Lines(strings.TrimPrefix(text, "\ufeff")) {
		if n++; n > mostLines {
			return b, append(problems, Problem{[]int{n}, fmt.Sprintf("the book has more than %d lines", mostLines), "Is it another file?"})
		}
		if len(problems) > mostProbs {
			return b, append(problems, Problem{Text: "and there may be more wrong", Hint: "Is it another file?"})
		}
		if err := b.line(n, strings.TrimRight(line, "\r\n"), headers); err != nil {
			err.Lines = []int{n}
			problems = append(problems, *err)
		}
	}
	problems = append(problems, b.headers(headers, len(problems) == 0)...)
	if len(problems) == 0 {
		problems = b.contradictions()
	}
	return b, problems
}

// line reads one line.
func (b *Book) line(n int, line string, headers map[string]int) *Problem {
	if strings.TrimSpace(line) == "" || strings.HasPrefix(strings.TrimSpace(line), "#") {
		return nil
	}
	if len(line) > mostLine || !utf8.ValidString(line) || strings.ContainsFunc(line, func(r rune) bool { return r != '\t' && unicode.IsControl(r) }) {
		return &Problem{Text: "it is too long, or holds bytes that are no text", Hint: "Save the file as plain text in UTF-8."}
	}
	head, value, ok := strings.Cut(line, ":")
	if !ok {
		return &Problem{Text: fmt.Sprintf("%.40q has no colon", line), Hint: "Write a word, a colon and a value: daily perch: 20."}
	}
	head, value = plain(head), plain(value)
	if value == "" {
		return &Problem{Text: fmt.Sprintf("%.40q says nothing after the colon", head), Hint: "Leave the line out when the law says nothing."}
	}
	if was, ok := headers[head]; ok {
		return &Problem{Text: fmt.Sprintf("%s is told on line %d already", head, was), Hint: "Keep one of the two."}
	}
	if done, err := b.header(head, value); done {
		headers[head] = n
		return err
	}
	f, rest, ok := formOf(head)
	if !ok {
		return &Problem{Text: fmt.Sprintf("%.40q is no kind of rule", head), Hint: "icehand rules form prints every kind."}
	}
	r := Rule{Kind: f.kind, Line: n}
	if i := strings.LastIndex(value, "["); i > 0 && strings.HasSuffix(value, "]") {
		value, r.Source = plain(value[:i]), plain(value[i+1:len(value)-1])
	}
	r.Text = value
	if err := f.about(rest, &r); err != nil {
		return &Problem{Text: err.Error(), Hint: fmt.Sprintf("%s takes: %s.", f.kind, f.values())}
	}
	if err := f.value(value, &r); err != nil {
		return &Problem{Text: r.Head() + ": " + strings.TrimPrefix(err.Error(), "quantity: "), Hint: fmt.Sprintf("%s takes: %s.", f.kind, f.values())}
	}
	b.Rules = append(b.Rules, r)
	return nil
}

// plain makes every run of blanks one.
func plain(s string) string { return strings.Join(strings.Fields(s), " ") }

// about reads what a rule is about.
func (f form) about(rest string, r *Rule) error {
	if f.subject == placeName {
		if rest == "" {
			return fmt.Errorf("%s names no place", f.kind)
		}
		r.Place = rest
		return nil
	}
	if rest == "" {
		if f.subject == oneSpecies || f.subject == species {
			return fmt.Errorf("%s names no species", f.kind)
		}
		return nil
	}
	if f.subject == nothing {
		return fmt.Errorf("%s is about nothing in particular, not %q", f.kind, rest)
	}
	for _, s := range strings.Split(rest, "+") {
		s = strings.ToLower(plain(s))
		if s == "" || strings.ContainsFunc(s, func(c rune) bool { return !unicode.IsLetter(c) && c != ' ' && c != '-' }) {
			return fmt.Errorf("%q is no name of a species", s)
		}
		if slices.Contains(r.Of, s) {
			return fmt.Errorf("%s stands twice in %q", s, rest)
		}
		r.Of = append(r.Of, s)
	}
	if len(r.Of) > 1 && f.subject == oneSpecies {
		return fmt.Errorf("%s is told of one species at a time", f.kind)
	}
	slices.Sort(r.Of)
	return nil
}

// header reads a line that is about the book itself.
func (b *Book) header(head, value string) (mine bool, err *Problem) {
	day := func(to *journal.Day) *Problem {
		if *to = journal.Day(value); !to.Valid() {
			return &Problem{Text: fmt.Sprintf("%s: %q is no date", head, value), Hint: "Write 2026-01-15."}
		}
		return nil
	}
	switch head {
	case "book":
		b.Name = value
	case "water":
		b.Water = value
	case "source":
		b.Source = value
	case "retrieved":
		return true, day(&b.Retrieved)
	case "from":
		return true, day(&b.From)
	case "to":
		return true, day(&b.To)
	default:
		return false, nil
	}
	return true, nil
}

// headers refuses a book that does not say what it is.
func (b *Book) headers(told map[string]int, sound bool) (out []Problem) {
	for _, h := range []struct{ key, why string }{{"book", "it has no name"}, {"source", "it does not say which text it was taken from"},
		{"retrieved", "it does not say when that text was read"}, {"from", "it does not say from when it holds"}, {"to", "it does not say until when it holds"}} {
		if told[h.key] == 0 {
			out = append(out, Problem{Text: h.why, Hint: "Add a line " + h.key + ": ..."})
		}
	}
	if len(out) == 0 && b.From > b.To {
		out = append(out, Problem{[]int{told["from"], told["to"]}, "it holds from " + string(b.From) + " and only to " + string(b.To), "Correct one of the dates."})
	}
	if sound && len(out) == 0 && len(b.Rules) == 0 {
		out = append(out, Problem{Text: "it holds no rule", Hint: "Add a line a rule: daily perch: 20."})
	}
	return out
}
