package file

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
)

// The JSON of a chart can be 64 MiB with one attribute of 50: decoding it into maps would cost several times that.
// So it is checked once and then walked in place with [Members] and [Elements], which copy nothing.

// JSON checks size, encoding, nesting and syntax and gives the UTF-8 bytes to walk.
func JSON(data []byte, opt Options) ([]byte, error) {
	if err := checkSize(data, opt); err != nil {
		return nil, err
	}
	if err := checkForeign(data); err != nil {
		return nil, err
	}
	data = bytes.TrimPrefix(data, []byte{0xef, 0xbb, 0xbf})
	if bytes.IndexByte(data, 0) >= 0 || bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}) {
		text, _, err := toText(data)
		if err != nil {
			return nil, err
		}
		data = []byte(text)
	}
	if nesting(data) > MaxNesting {
		return nil, fault.New(fault.BadInput, "", "the file nests brackets more than %d deep", MaxNesting)
	}
	var nothing struct{}
	var syntax *json.SyntaxError
	// Only the syntax is wanted: a value of another type than an object is no fault here.
	if err := json.Unmarshal(data, &nothing); errors.As(err, &syntax) {
		if int(syntax.Offset) >= len(data) {
			return nil, fault.Wrap(err, fault.BadInput, "Fetch or copy the file again.", "the file is cut off after %d bytes", len(data))
		}
		return nil, fault.Wrap(err, fault.BadInput, "", "the file is not JSON from byte %d on", syntax.Offset)
	}
	return data, nil
}

// nesting gives the greatest depth of brackets outside strings.
func nesting(b []byte) int {
	depth, deepest := 0, 0
	for i := 0; i < len(b); i++ {
		switch b[i] {
		case '"':
			i = stringEnd(b, i) - 1
		case '{', '[':
			depth++
			deepest = max(deepest, depth)
		case '}', ']':
			depth--
		}
	}
	return deepest
}

// stringEnd gives the offset behind the string that starts at i.
func stringEnd(b []byte, i int) int {
	for i++; i < len(b); i++ {
		switch b[i] {
		case '\\':
			i++
		case '"':
			return i + 1
		}
	}
	return len(b)
}

func skipSpace(b []byte, i int) int {
	for i < len(b) && (b[i] == ' ' || b[i] == '\n' || b[i] == '\r' || b[i] == '\t') {
		i++
	}
	return i
}

// valueEnd gives the offset behind the value that starts at i.
func valueEnd(b []byte, i int) int {
	depth := 0
	for i < len(b) {
		switch b[i] {
		case '"':
			i = stringEnd(b, i)
			if depth == 0 {
				return i
			}
			continue
		case '{', '[':
			depth++
		case '}', ']':
			depth--
			if depth == 0 {
				return i + 1
			}
			if depth < 0 { // the bracket belongs to the container
				return i
			}
		case ',', ' ', '\n', '\r', '\t':
			if depth == 0 {
				return i
			}
		}
		i++
	}
	return i
}

// ErrNotObject and ErrNotArray tell that a JSON value is of another type than the format asks for.
var (
	ErrNotObject = errors.New("file: not a JSON object")
	ErrNotArray  = errors.New("file: not a JSON array")
)

// Members calls f for each member of a JSON object that [JSON] has passed, until f fails. The value is not a copy.
func Members(b []byte, f func(key string, value []byte) error) error {
	i := skipSpace(b, 0)
	if i >= len(b) || b[i] != '{' {
		return ErrNotObject
	}
	for i = skipSpace(b, i+1); i < len(b) && b[i] == '"'; {
		end := stringEnd(b, i)
		key, _ := JSONString(b[i:end])
		i = skipSpace(b, end)
		if i >= len(b) || b[i] != ':' {
			return io.ErrUnexpectedEOF
		}
		i = skipSpace(b, i+1)
		end = valueEnd(b, i)
		if err := f(key, b[i:end]); err != nil {
			return err
		}
		i = skipSpace(b, end)
		if i < len(b) && b[i] == ',' {
			i = skipSpace(b, i+1)
		}
	}
	return nil
}

// Elements calls f for each element of a JSON array that [JSON] has passed, until f fails. The value is not a copy.
func Elements(b []byte, f func(i int, value []byte) error) error {
	i := skipSpace(b, 0)
	if i >= len(b) || b[i] != '[' {
		return ErrNotArray
	}
	i = skipSpace(b, i+1)
	for n := 0; i < len(b) && b[i] != ']'; n++ {
		end := valueEnd(b, i)
		if err := f(n, b[i:end]); err != nil {
			return err
		}
		i = skipSpace(b, end)
		if i < len(b) && b[i] == ',' {
			i = skipSpace(b, i+1)
		}
	}
	return nil
}

// Member gives one member of a JSON object, nil when it has none of that name.
func Member(b []byte, name string) []byte {
	var found []byte
	_ = Members(b, func(key string, value []byte) error { // not an object: no member either
		if key == name {
			found = value
		}
		return nil
	})
	return found
}

// JSONNumber reads a JSON number. It is false for any other value and for a number beyond the range of float64.
func JSONNumber(b []byte) (float64, bool) {
	if len(b) == 0 || len(b) > 64 || b[0] != '-' && (b[0] < '0' || b[0] > '9') {
		return 0, false
	}
	v, err := strconv.ParseFloat(string(b), 64)
	return v, err == nil
}

// JSONString reads a JSON string. It is false for any other value.
func JSONString(b []byte) (string, bool) {
	if len(b) < 2 || b[0] != '"' {
		return "", false
	}
	if bytes.IndexByte(b, '\\') < 0 {
		return strings.ToValidUTF8(string(b[1:len(b)-1]), "\ufffd"), true
	}
	var s string
	err := json.Unmarshal(b, &s)
	return s, err == nil
}

// IsNull tells whether a JSON value is null or absent.
func IsNull(b []byte) bool { return len(b) == 0 || string(b) == "null" }
