package web_test

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"icehand/internal/feed/calendar"
)

// A reader of iCalendar written after the text of [RFC5545] alone; it shares nothing with the writer. It knows the parts that an
// alarm needs and refuses everything else.

// icsPart is a component with its properties in order.
type icsPart struct {
	name  string
	props []icsProp
	parts []*icsPart
}

type icsProp struct{ name, params, value string }

// values gives the values of a property.
func (p *icsPart) values(name string) (out []string) {
	for _, x := range p.props {
		if x.name == name {
			out = append(out, x.value)
		}
	}
	return out
}

var (
	icsName     = regexp.MustCompile(`^([A-Za-z0-9-]+)((?:;[A-Za-z0-9-]+=(?:"[^"]*"|[^";:,]*)(?:,(?:"[^"]*"|[^";:,]*))*)*):(.*)$`) // section 3.1: contentline
	icsUTC      = regexp.MustCompile(`^\d{8}T\d{6}Z$`)                                                                             // section 3.3.5, form 2
	icsDuration = regexp.MustCompile(`^[+-]?P(\d+W|\d+D(T(\d+H(\d+M(\d+S)?)?|\d+M(\d+S)?|\d+S))?|T(\d+H(\d+M(\d+S)?)?|\d+M(\d+S)?|\d+S))$`)
)

// unfoldICS splits a calendar into its content lines [RFC5545, section 3.1].
func unfoldICS(data []byte) (lines []string, err error) {
	s := string(data)
	switch {
	case !utf8.ValidString(s):
		return nil, fmt.Errorf("not UTF-8 (3.1.4)")
	case !strings.HasSuffix(s, "\r\n"):
		return nil, fmt.Errorf("does not end with CRLF (3.1)")
	case strings.Count(s, "\r") != strings.Count(s, "\r\n") || strings.Count(s, "\n") != strings.Count(s, "\r\n"):
		return nil, fmt.Errorf("a line ends otherwise than with CRLF (3.1)")
	}
	for i, l := range strings.Split(strings.TrimSuffix(s, "\r\n"), "\r\n") {
		folded := strings.HasPrefix(l, " ") || strings.HasPrefix(l, "\t")
		switch {
		case len(l) > 75:
			return nil, fmt.Errorf("line %d has %d octets (3.1)", i+1, len(l))
		case l == "" || folded && i == 0:
			return nil, fmt.Errorf("line %d is no content line (3.1)", i+1)
		case strings.ContainsFunc(l, func(r rune) bool { return r < ' ' && r != '\t' || r == 0x7f }):
			return nil, fmt.Errorf("line %d holds a control character (3.1)", i+1)
		case folded:
			lines[len(lines)-1] += l[1:]
		default:
			lines = append(lines, l)
		}
	}
	return lines, nil
}

// readICS reads a calendar and checks it part by part.
func readICS(data []byte) (*icsPart, error) {
	lines, err := unfoldICS(data)
	if err != nil {
		return nil, err
	}
	root := &icsPart{}
	open := []*icsPart{root}
	for _, l := range lines {
		m := icsName.FindStringSubmatch(l)
		if m == nil {
			return nil, fmt.Errorf("%q is no content line (3.1)", l)
		}
		at := open[len(open)-1]
		switch name, value := strings.ToUpper(m[1]), m[3]; {
		case name == "BEGIN":
			p := &icsPart{name: strings.ToUpper(value)}
			at.parts, open = append(at.parts, p), append(open, p)
		case name == "END":
			if strings.ToUpper(value) != at.name || at == root {
				return nil, fmt.Errorf("END:%s closes %s (3.4)", value, at.name)
			}
			open = open[:len(open)-1]
		case at == root:
			return nil, fmt.Errorf("%q stands outside the calendar (3.4)", l)
		default:
			at.props = append(at.props, icsProp{name, m[2], value})
		}
	}
	if len(open) != 1 || len(root.parts) != 1 || root.parts[0].name != "VCALENDAR" {
		return nil, fmt.Errorf("not one whole calendar (3.4)")
	}
	return root.parts[0], checkICS(root.parts[0])
}

// checkICS holds a calendar to sections 3.6, 3.6.1 and 3.6.6.
func checkICS(c *icsPart) error {
	if v := c.values("VERSION"); len(v) != 1 || v[0] != "2.0" {
		return fmt.Errorf("VERSION %q (3.7.4)", v)
	}
	if v := c.values("PRODID"); len(v) != 1 || v[0] == "" {
		return fmt.Errorf("PRODID %q (3.7.3)", v)
	}
	if len(c.parts) == 0 {
		return fmt.Errorf("a calendar of nothing (3.4)")
	}
	seen := map[string]bool{}
	for _, e := range c.parts {
		if err := checkEvent(e, len(c.values("METHOD")) > 0); err != nil {
			return err
		}
		id := e.values("UID")[0]
		if seen[id] {
			return fmt.Errorf("UID %q twice (3.8.4.7)", id)
		}
		seen[id] = true
	}
	return nil
}

func checkEvent(e *icsPart, method bool) error {
	if e.name != "VEVENT" {
		return fmt.Errorf("a %s was not expected", e.name)
	}
	for name, least := range map[string]int{"UID": 1, "DTSTAMP": 1, "DTSTART": 1, "DTEND": 0, "DURATION": 0, "SUMMARY": 0, "DESCRIPTION": 0, "STATUS": 0, "SEQUENCE": 0, "CLASS": 0, "TRANSP": 0} {
		if n := len(e.values(name)); n > 1 || n < least && !(method && name == "DTSTART") {
			return fmt.Errorf("%d of %s in an event (3.6.1)", n, name)
		}
	}
	if len(e.values("DTEND"))+len(e.values("DURATION")) > 1 {
		return fmt.Errorf("both an end and a duration (3.6.1)")
	}
	if err := checkValues(e); err != nil {
		return err
	}
	for _, a := range e.parts {
		if a.name != "VALARM" || len(a.parts) > 0 {
			return fmt.Errorf("a %s inside an event (3.6.1)", a.name)
		}
		action, trigger := a.values("ACTION"), a.values("TRIGGER")
		if len(action) != 1 || len(trigger) != 1 || !icsDuration.MatchString(trigger[0]) {
			return fmt.Errorf("an alarm with ACTION %q and TRIGGER %q (3.6.6, 3.3.6)", action, trigger)
		}
		if n := len(a.values("DESCRIPTION")); action[0] == "DISPLAY" && n != 1 || n > 1 {
			return fmt.Errorf("%d descriptions of an alarm that is shown (3.6.6)", n)
		}
		if len(a.values("DURATION")) != len(a.values("REPEAT")) {
			return fmt.Errorf("a repetition without its pause (3.6.6)")
		}
		if err := checkValues(a); err != nil {
			return err
		}
	}
	return nil
}

// checkValues holds texts to section 3.3.11 and times to 3.3.5. Times are expected in UTC, which needs no VTIMEZONE.
func checkValues(p *icsPart) error {
	for _, x := range p.props {
		switch x.name {
		case "UID", "SUMMARY", "DESCRIPTION":
			if _, err := textICS(x.value); err != nil {
				return fmt.Errorf("%s: %w", x.name, err)
			}
		case "DTSTAMP", "DTSTART", "DTEND":
			if _, err := time.Parse("20060102T150405Z", x.value); err != nil || !icsUTC.MatchString(x.value) || x.params != "" {
				return fmt.Errorf("%s%s:%s is no time in UTC (3.3.5)", x.name, x.params, x.value)
			}
		}
	}
	return nil
}

// textICS takes the escapes off a text [RFC5545, section 3.3.11].
func textICS(s string) (string, error) {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == ',' || c == ';':
			return "", fmt.Errorf("a bare %q in %q (3.3.11)", c, s)
		case c != '\\':
			b.WriteByte(c)
		case i+1 == len(s) || !strings.ContainsRune(`\;,nN`, rune(s[i+1])):
			return "", fmt.Errorf("a bare backslash in %q (3.3.11)", s)
		default:
			i++
			if c = s[i]; c == 'n' || c == 'N' {
				c = '\n'
			}
			b.WriteByte(c)
		}
	}
	return b.String(), nil
}

// The file of the page is one that [RFC5545] allows, and says what the record says: turn-back and the hour agreed, each with a ring
// half an hour before and at the hour. No place stands in it.
func TestAlarmsFollowRFC5545(t *testing.T) {
	d, h, s := demo(t, true)
	w := get(h, "/day/alarms.ics")
	if got := w.Header().Get("Content-Type"); got != "text/calendar; charset=utf-8" {
		t.Errorf("sent as %q", got)
	}
	c, err := readICS(w.Body.Bytes())
	if err != nil {
		t.Fatalf("%v:\n%s", err, w.Body)
	}
	b, err := d.TurnBack(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	first := c.parts[0]
	start, err := time.Parse("20060102T150405Z", first.values("DTSTART")[0])
	if err != nil || !start.Equal(b.At) || first.values("SUMMARY")[0] != "Turn back" {
		t.Errorf("%v: %s at %v, the turn-back time is %v", err, first.values("SUMMARY"), start, b.At)
	}
	if said, err := textICS(first.values("DESCRIPTION")[0]); err != nil || !strings.HasPrefix(said, b.Binding.Text) || strings.Contains(said, s.Scout.DecimalText()) {
		t.Errorf("%v: says %q, binding is %q", err, said, b.Binding.Text)
	}
	for _, e := range c.parts {
		var rings []string
		for _, a := range e.parts {
			rings = append(rings, a.values("TRIGGER")...)
		}
		step := strings.HasPrefix(e.values("SUMMARY")[0], "Overdue: ") // a step is told at its minute, not before
		if got := strings.Join(rings, " "); !step && got != "-PT30M -PT0M" && got != "-PT30M PT0M" || step && got != "-PT0M" && got != "PT0M" {
			t.Errorf("%s rings at %s", e.values("SUMMARY"), got)
		}
	}
}

// Long and odd texts go out and come back whole.
func TestTextsThroughACalendar(t *testing.T) {
	at := time.Date(2026, 1, 15, 17, 55, 0, 0, time.UTC)
	for _, text := range []string{"", "short", strings.Repeat("é", 200), strings.Repeat("a", 63), strings.Repeat("a", 64), strings.Repeat("0123456789 ", 40), `a\b;c,d`, "one\ntwo\n\nfour", "BEGIN:VALARM\nEND:VEVENT",
		"🎣" + strings.Repeat("ö𝄞", 60), strings.Repeat(`\`, 90), "trailing space ", ":;,\"quotes\"", strings.Repeat(" ", 200)} {
		var b bytes.Buffer
		if err := calendar.Write(&b, []calendar.Event{{UID: "x@icehand", Stamp: at, Start: at, Summary: text, Description: text, Alarms: []time.Duration{time.Hour}}}); err != nil {
			t.Fatal(err)
		}
		c, err := readICS(b.Bytes())
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		for _, got := range [][]string{c.parts[0].values("SUMMARY"), c.parts[0].values("DESCRIPTION"), c.parts[0].parts[0].values("DESCRIPTION")} {
			if len(got) == 0 && text == "" {
				continue
			}
			if back, err := textICS(got[0]); err != nil || back != text {
				t.Errorf("%q came back as %q: %v", text, back, err)
			}
		}
	}
}

// The reader sees what is wrong: a calendar of ours with one fault at a time.
func TestTheReaderOfCalendarsRefuses(t *testing.T) {
	const good = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nBEGIN:VEVENT\r\nUID:1\r\nDTSTAMP:20260115T120000Z\r\nDTSTART:20260115T120000Z\r\nSUMMARY:a\\, b\r\n" +
		"BEGIN:VALARM\r\nACTION:DISPLAY\r\nDESCRIPTION:a\r\nTRIGGER:-PT30M\r\nEND:VALARM\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
	if _, err := readICS([]byte(good)); err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]string{{"\r\n", "\n"}, {"VERSION:2.0\r\n", ""}, {"PRODID:x\r\n", ""}, {"UID:1\r\n", ""}, {"DTSTAMP:20260115T120000Z\r\n", ""}, {"DTSTART:20260115T120000Z\r\n", ""},
		{"UID:1\r\n", "UID:1\r\nUID:2\r\n"}, {"ACTION:DISPLAY\r\n", ""}, {"TRIGGER:-PT30M\r\n", ""}, {"DESCRIPTION:a\r\n", ""}, {"-PT30M", "-30M"}, {"-PT30M", "-P30M"}, {"a\\, b", "a, b"}, {"a\\, b", "a\\b"}, {"a\\, b", strings.Repeat("x", 80)},
		{"END:VALARM\r\n", ""}, {"T120000Z\r\nSUMMARY", "T120000\r\nSUMMARY"}, {"T120000Z\r\nSUMMARY", "T250000Z\r\nSUMMARY"}, {"UID:1\r\n", "UID 1\r\n"}, {"UID:1\r\n", "UID:1\r\n\r\n"}, {"SUMMARY:a", "SUMMARY:a\x07"}, {"SUMMARY:a", "SUMMARY:a\xff"}} {
		bad := strings.Replace(good, c[0], c[1], 1)
		if bad == good {
			t.Fatalf("%q changes nothing", c)
		}
		if _, err := readICS([]byte(bad)); err == nil {
			t.Errorf("%q for %q is taken", c[1], c[0])
		}
	}
}
