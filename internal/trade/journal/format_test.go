package journal

import (
	"os"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/uuid"
)

const formatDoc = "../../../docs/journal-format.md"

var (
	docHeading = regexp.MustCompile("^### (?:`([a-z_]+)`, version ([0-9]+)|([A-Z][A-Za-z]+))$")
	docRow     = regexp.MustCompile("^\\| `([a-z_0-9]+)` \\| ([^|]+) \\|(?: ([^|]+) \\|)? ([^|]+) \\|$")
)

// field is a member as the document or the code states it.
type field struct{ name, kind, presence string }

// documented reads the tables of the document: of kinds and shared objects by name, and of the entry under "".
func documented(t *testing.T) (tables map[string][]field, versions map[Kind]string, text string) {
	t.Helper()
	b, err := os.ReadFile(formatDoc)
	if err != nil {
		t.Fatal(err)
	}
	tables, versions = map[string][]field{}, map[Kind]string{}
	section := ""
	for line := range strings.Lines(string(b)) {
		line = strings.TrimRight(line, "\n")
		if m := docHeading.FindStringSubmatch(line); m != nil {
			section = m[1] + m[3]
			if _, twice := tables[section]; twice {
				t.Errorf("%s is documented twice", section)
			}
			tables[section] = nil
			if m[1] != "" {
				versions[Kind(m[1])] = m[2]
			}
		} else if m := docRow.FindStringSubmatch(line); m != nil {
			tables[section] = append(tables[section], field{m[1], m[2], m[3]})
		}
	}
	return tables, versions, string(b)
}

// wanted gives the fields of a body or shared object, and calls also for the objects inside.
func wanted(t reflect.Type, also func(reflect.Type)) []field {
	var out []field
	for i := range t.NumField() {
		name, options, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		presence := "always"
		if strings.Contains(options, "omit") {
			presence = "optional"
		}
		out = append(out, field{name, typeName(t.Field(i).Type, also), presence})
	}
	return out
}

func typeName(t reflect.Type, also func(reflect.Type)) string {
	switch t {
	case reflect.TypeFor[uuid.UUID]():
		return "id"
	case reflect.TypeFor[Hash]():
		return "hash"
	case reflect.TypeFor[Day]():
		return "day"
	}
	switch t.Kind() {
	case reflect.Pointer:
		return typeName(t.Elem(), also)
	case reflect.Int64:
		return "integer"
	case reflect.String:
		return "text"
	case reflect.Bool:
		return "boolean"
	case reflect.Struct:
		also(t)
		return t.Name()
	case reflect.Map:
		return "object of " + typeName(t.Elem(), also)
	case reflect.Slice:
		if t.Elem().Kind() == reflect.Uint8 {
			return "JSON"
		}
		return "list of " + typeName(t.Elem(), also)
	}
	return "a type that the format has no word for: " + t.String()
}

// docs/journal-format.md names every kind and every member of its body, with type and presence, and nothing else.
func TestFormatIsDocumented(t *testing.T) {
	tables, versions, _ := documented(t)
	seen := map[string]bool{"": true}
	check := func(name string, typ reflect.Type, also func(reflect.Type)) {
		if seen[name] {
			return
		}
		seen[name] = true
		if got, want := tables[name], wanted(typ, also); !slices.Equal(got, want) {
			t.Errorf("%s is documented as\n%v\nand is\n%v", name, got, want)
		}
	}
	var also func(reflect.Type)
	also = func(typ reflect.Type) { check(typ.Name(), typ, also) }
	for kind, info := range kinds {
		check(string(kind), reflect.TypeOf(info.fresh()).Elem(), also)
		if versions[kind] != strconv.Itoa(info.version) {
			t.Errorf("%s is documented in version %q and is %d", kind, versions[kind], info.version)
		}
	}
	for name := range tables {
		if !seen[name] {
			t.Errorf("%s is documented and does not exist", name)
		}
	}
}

// The table of an entry's fields is in the order of a line's members, which but for hash is the order of hashing.
func TestEntryIsDocumented(t *testing.T) {
	tables, _, _ := documented(t)
	var got, want []string
	for _, f := range tables[""] {
		got = append(got, f.name)
	}
	for i := range reflect.TypeFor[wire]().NumField() {
		name, _, _ := strings.Cut(reflect.TypeFor[wire]().Field(i).Tag.Get("json"), ",")
		if name != "hash" {
			want = append(want, name)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("documented %q, a line has %q", got, want)
	}
}

// The document's sample, whose hashes another program confirmed, verifies.
func TestDocumentedSample(t *testing.T) {
	_, _, text := documented(t)
	_, sample, ok := strings.Cut(text, "```json\n")
	sample, _, ok2 := strings.Cut(sample, "```")
	if !ok || !ok2 {
		t.Fatal("no sample")
	}
	var head Head
	n := 0
	for line := range strings.Lines(sample) {
		e, err := ParseLine([]byte(line))
		if err != nil {
			t.Fatal(err)
		}
		if n == 0 {
			head.Journal = e.Journal
		}
		if err := Verify(head, &e); err != nil {
			t.Error(err)
		}
		if err := Decode(&e).Check(); err != nil {
			t.Error(err)
		}
		back, err := AppendLine(nil, &e)
		if err != nil || string(back) != line {
			t.Errorf("%s is written as %s", line, back)
		}
		head = HeadOf(&e)
		n++
	}
	if n != 2 {
		t.Errorf("%d entries, want 2", n)
	}
}
