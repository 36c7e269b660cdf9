package check

import (
	"encoding/csv"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
)

// columns is the header, in order.
var columns = []string{"id", "quantity", "inputs", "expected", "unit", "tolerance", "source", "recalled"}

// Caps for files from outside.
const (
	maxBytes = 8 << 20
	maxRows  = 50000
)

const loadHint = "docs/checks.md describes the layout: id,quantity,inputs,expected,unit,tolerance,source,recalled."

// Load reads rows from CSV. It is strict: the first thing that is wrong is reported with its line and column, and a file
// without rows is an error. Lines that start with # are comments. Whether a slug exists is for [Run] to say, row by row.
func Load(r io.Reader) ([]Check, error) {
	limited := &io.LimitedReader{R: r, N: maxBytes + 1}
	cr := csv.NewReader(limited)
	cr.Comment = '#'
	cr.FieldsPerRecord = -1
	header, err := cr.Read()
	if err != nil {
		return nil, readFault(err, "the header")
	}
	header[0] = strings.TrimPrefix(header[0], "\ufeff")
	if strings.Join(header, ",") != strings.Join(columns, ",") {
		return nil, fault.New(fault.BadInput, loadHint, "the first line must be %q, not %q", strings.Join(columns, ","), clip(strings.Join(header, ",")))
	}
	var out []Check
	seen := map[string]int{}
	for {
		record, err := cr.Read()
		if limited.N <= 0 || len(out) > maxRows {
			return nil, fault.New(fault.BadInput, "Split the file.", "more than %d rows or %d MB", maxRows, maxBytes>>20)
		}
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, readFault(err, "a row")
		}
		line, _ := cr.FieldPos(0)
		c, err := parseRow(line, record)
		if err != nil {
			return nil, err
		}
		if first, ok := seen[c.ID]; ok {
			return nil, rowFault(line, "id", "%q was used in line %d", c.ID, first)
		}
		seen[c.ID] = line
		out = append(out, c)
	}
	if len(out) == 0 {
		return nil, fault.New(fault.BadInput, loadHint, "the file holds no rows")
	}
	return out, nil
}

// parseRow reads one record.
func parseRow(line int, record []string) (Check, error) {
	if len(record) != len(columns) {
		return Check{}, fault.New(fault.BadInput, "Quote a field that holds commas.", "line %d has %d columns, not %d", line, len(record), len(columns))
	}
	for i := range record {
		record[i] = strings.TrimSpace(record[i])
	}
	c := Check{ID: record[0], Quantity: record[1], Unit: record[4], Source: record[6]}
	for _, i := range []int{0, 1, 4, 6} {
		if record[i] == "" {
			return Check{}, rowFault(line, columns[i], "is empty")
		}
	}
	if c.Key() == "" {
		return Check{}, rowFault(line, "source", "names nothing before its colon")
	}
	var err error
	if c.Inputs, err = parseInputs(line, record[2]); err != nil {
		return Check{}, err
	}
	var ok bool
	if c.Expected, ok = finite(record[3]); !ok {
		return Check{}, rowFault(line, "expected", "%q is not one number", clip(record[3]))
	}
	if c.Tolerance, ok = finite(record[5]); !ok || c.Tolerance < 0 {
		return Check{}, rowFault(line, "tolerance", "%q is not one number of 0 or more", clip(record[5]))
	}
	switch record[7] {
	case "yes":
		c.Recalled = true
	case "no":
	default:
		return Check{}, rowFault(line, "recalled", "%q is neither yes nor no", clip(record[7]))
	}
	return c, nil
}

// parseInputs reads key=value pairs parted by semicolons; nothing at all is no inputs.
func parseInputs(line int, s string) (map[string]string, error) {
	in := map[string]string{}
	if s == "" {
		return in, nil
	}
	for _, pair := range strings.Split(s, ";") {
		key, value, ok := strings.Cut(pair, "=")
		key, value = strings.TrimSpace(key), strings.TrimSpace(value)
		if !ok || key == "" || value == "" {
			return nil, rowFault(line, "inputs", "%q is not key=value", clip(strings.TrimSpace(pair)))
		}
		if _, twice := in[key]; twice {
			return nil, rowFault(line, "inputs", "%q is given twice", clip(key))
		}
		in[key] = value
	}
	return in, nil
}

// finite reads a plain finite number.
func finite(s string) (float64, bool) {
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0) && !math.IsNaN(v)
}

func rowFault(line int, column, format string, args ...any) error {
	f := fault.New(fault.BadInput, loadHint, format, args...)
	f.Message = "line " + strconv.Itoa(line) + ", column " + column + ": " + f.Message
	return f
}

func readFault(err error, what string) error {
	if errors.Is(err, io.EOF) {
		return fault.New(fault.BadInput, loadHint, "the file is empty")
	}
	return fault.Wrap(err, fault.BadInput, loadHint, "%s cannot be read as CSV: %v", what, err)
}

// clip keeps a message short whatever a file holds.
func clip(s string) string {
	const most = 60
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "..."
	}
	return s
}
