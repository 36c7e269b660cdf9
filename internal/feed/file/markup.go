package file

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strings"

	"icehand/internal/base/fault"
)

// Markup walks an XML file within bounds. Entities other than the five of XML itself, and every document type, are
// refused: there is nothing to expand and nothing to fetch.
type Markup struct {
	dec   *xml.Decoder
	text  []byte
	depth int // elements that are open
}

// OpenMarkup checks size, encoding, document type and the length of tags, and gives the file to walk.
func OpenMarkup(data []byte, opt Options) (*Markup, error) {
	if err := checkSize(data, opt); err != nil {
		return nil, err
	}
	text, _, err := toText(data)
	if err != nil {
		return nil, err
	}
	m := &Markup{text: []byte(text)}
	if err := checkTags(m.text); err != nil {
		return nil, err
	}
	m.dec = xml.NewDecoder(bytes.NewReader(m.text))
	m.dec.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil } // decoded above
	return m, nil
}

// checkTags refuses a document type and tags longer than any real one: a single tag with a million attributes would
// fill the memory before its end is seen.
func checkTags(b []byte) error {
	for i := 0; i < len(b); {
		at := bytes.IndexByte(b[i:], '<')
		if at < 0 {
			return nil
		}
		i += at
		rest := b[i:]
		end := 0
		switch {
		case bytes.HasPrefix(rest, []byte("<!--")):
			end = closing(rest, "-->")
		case bytes.HasPrefix(rest, []byte("<![CDATA[")):
			end = closing(rest, "]]>")
		case bytes.HasPrefix(rest, []byte("<!")):
			return fault.New(fault.BadInput, "Export it again; no chart needs one.", "the file declares a document type, which is not read")
		default:
			quote := byte(0)
			for end = 1; end < len(rest) && (quote != 0 || rest[end] != '>'); end++ {
				switch c := rest[end]; {
				case quote == c:
					quote = 0
				case quote == 0 && (c == '"' || c == '\''):
					quote = c
				}
				if end > MaxCell {
					return fault.New(fault.BadInput, "", "the file holds a tag of more than %d bytes", MaxCell)
				}
			}
		}
		i += max(end, 1)
	}
	return nil
}

func closing(b []byte, mark string) int {
	if i := bytes.Index(b, []byte(mark)); i >= 0 {
		return i + len(mark)
	}
	return len(b)
}

// next gives the next token.
func (m *Markup) next() (xml.Token, error) {
	tok, err := m.dec.Token()
	if err == io.EOF {
		return nil, err
	}
	line, _ := m.dec.InputPos()
	var syntax *xml.SyntaxError
	switch {
	case errors.As(err, &syntax) && strings.Contains(syntax.Msg, "unexpected EOF"):
		return nil, fault.Wrap(err, fault.BadInput, "Fetch or copy the file again.", "the file is cut off in line %d", line)
	case err != nil:
		return nil, fault.Wrap(err, fault.BadInput, "", "the file is not XML from line %d on", line)
	}
	switch tok.(type) {
	case xml.StartElement:
		if m.depth++; m.depth > MaxNesting {
			return nil, fault.New(fault.BadInput, "", "the file nests elements more than %d deep", MaxNesting)
		}
	case xml.EndElement:
		m.depth--
	}
	return tok, nil
}

// Root opens the outermost element.
func (m *Markup) Root() (xml.StartElement, error) {
	for {
		tok, err := m.next()
		if err == io.EOF {
			return xml.StartElement{}, fault.New(fault.BadInput, "", "the file holds no element")
		}
		if err != nil {
			return xml.StartElement{}, err
		}
		if t, ok := tok.(xml.StartElement); ok {
			return t, nil
		}
	}
}

// Children calls f for every child of the element just opened, until f fails. What f leaves unread of a child is passed over.
func (m *Markup) Children(f func(child xml.StartElement) error) error {
	level := m.depth
	for {
		tok, err := m.next()
		if err != nil {
			return noEnd(err)
		}
		switch t := tok.(type) {
		case xml.StartElement:
			if err := f(t); err != nil {
				return err
			}
			for m.depth > level {
				if _, err := m.next(); err != nil {
					return noEnd(err)
				}
			}
		case xml.EndElement:
			return nil
		}
	}
}

// noEnd turns the end of the file inside an element into an error.
func noEnd(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}

// Text gives the text of the element just opened, trimmed, the text of elements within left out. It refuses more than limit bytes.
func (m *Markup) Text(limit int) (string, error) {
	var b strings.Builder
	level := m.depth
	for m.depth >= level {
		tok, err := m.next()
		if err != nil {
			return "", noEnd(err)
		}
		if t, ok := tok.(xml.CharData); ok && m.depth == level {
			if b.Len()+len(t) > limit {
				return "", fault.New(fault.BadInput, "", "the file holds a text of more than %d bytes", limit)
			}
			b.Write(t)
		}
	}
	return strings.TrimSpace(b.String()), nil
}

// Leaves calls f for each innermost element within the element just opened: its name without a prefix, and its text.
func (m *Markup) Leaves(f func(name, text string)) error {
	var text strings.Builder
	level, leaf := m.depth, false
	for m.depth >= level {
		tok, err := m.next()
		if err != nil {
			return noEnd(err)
		}
		switch t := tok.(type) {
		case xml.StartElement:
			leaf = true
			text.Reset()
		case xml.CharData:
			if leaf {
				text.Write(t)
			}
		case xml.EndElement:
			if leaf {
				f(t.Name.Local, strings.TrimSpace(text.String()))
			}
			leaf = false
		}
	}
	return nil
}

// Offset tells how far the file has been walked, for [Markup.Raw].
func (m *Markup) Offset() int { return int(m.dec.InputOffset()) }

// Raw gives the bytes of the file between two offsets, not a copy.
func (m *Markup) Raw(from, to int) []byte { return m.text[from:to] }
