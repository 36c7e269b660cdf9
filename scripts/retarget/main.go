// Command retarget rewrites what templ generated so that it rests on internal/base/markup: retarget FOLDER...
//
// The Makefile runs it after templ. Generated templates check after every write whether it failed, and rest on a package
// that names net/http; into memory no write fails, and the phone's program is smaller without. It knows the few
// shapes that templ writes for what our templates use and stops at any other, so that a new one is seen at once.
package main

import (
	"fmt"
	"go/format"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

func main() {
	for _, folder := range os.Args[1:] {
		if err := retarget(folder); err != nil {
			fmt.Fprintln(os.Stderr, "retarget: "+err.Error())
			os.Exit(1)
		}
	}
}

func retarget(folder string) error {
	files, err := filepath.Glob(filepath.Join(folder, "*_templ.go"))
	if err != nil || len(files) == 0 {
		return fmt.Errorf("%s: no generated templates, %v", folder, err)
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			return err
		}
		if strings.Contains(string(b), markup) {
			continue
		}
		text, err := rewritten(string(b))
		if err != nil {
			return fmt.Errorf("%s: %w", f, err)
		}
		if err := os.WriteFile(f, text, 0o644); err != nil {
			return err
		}
	}
	return nil
}

const (
	markup = `import "icehand/internal/base/markup"`
	name   = "templ_7745c5c3_" // before every name that templ makes up
)

// A shape is one kind of generated lines and what becomes of it. $1, $2 stand for its parts.
type shape struct {
	from *regexp.Regexp
	to   string
}

// shapes, the longer first. The lines come trimmed.
var shapes = []shape{
	{lines(`import "github.com/a-h/templ"`, `import templruntime "github.com/a-h/templ/runtime"`), markup},
	{lines(`func (\S.*) templ\.Component \{`, `return templruntime\.GeneratedTemplate\(func\(X_Input templruntime\.GeneratedComponentInput\) \(X_Err error\) \{`,
		`X_W, ctx := X_Input\.Writer, X_Input\.Context`, `if X_CtxErr := ctx\.Err\(\); X_CtxErr != nil \{`, `return X_CtxErr`, `\}`,
		`X_Buffer, X_IsBuffer := templruntime\.GetBuffer\(X_W\)`, `if !X_IsBuffer \{`, `defer func\(\) \{`, `X_BufErr := templruntime\.ReleaseBuffer\(X_Buffer\)`,
		`if X_Err == nil \{`, `X_Err = X_BufErr`, `\}`, `\}\(\)`, `\}`, `ctx = templ\.InitializeContext\(ctx\)`, `ctx = templ\.ClearChildren\(ctx\)`),
		"func $1 markup.Piece {\nreturn func(to *markup.Page) {"},
	{lines(`return nil`, `\}\)`), "}"},
	{lines(`\{`, `X_ElementWriter := X_Buffer`, `X_Buffer := templ\.GetBuffer\(\)`, `var X_ElementScripts \[\]templ\.ComponentScript`), ""},
	{lines(`var X_Var(\d+) = \[\]any\{(.*)\}`, `X_Err = templ\.RenderCSSItems\(ctx, X_ElementWriter, X_Var\d+\.\.\.\)`, `if X_Err != nil \{`, `return X_Err`, `\}`,
		`var X_Var\d+ string`, `X_Var\d+, X_Err = templruntime\.NewAttributeExpression\(templ\.CSSClasses\(X_Var\d+\)\.String\(\)\)\.Resolve\(ctx\)`, `if X_Err != nil \{`,
		"return templ\\.Error\\{.*\\}", `\}`, `_, X_Err = X_Buffer\.WriteString\(X_Var\d+\)`, `if X_Err != nil \{`, `return X_Err`, `\}`), "to.Class($2)"},
	{lines(`X_Err = templ\.RenderScriptItems\(ctx, X_ElementWriter, X_ElementScripts\.\.\.\)`, `if X_Err != nil \{`, `return X_Err`, `\}`,
		`_, X_Err = X_Buffer\.WriteTo\(X_ElementWriter\)`, `if X_Err != nil \{`, `return X_Err`, `\}`, `templ\.ReleaseBuffer\(X_Buffer\)`, `\}`), ""},
	{lines(`X_Err = templruntime\.WriteString\(X_Buffer, \d+, (".*")\)`, `if X_Err != nil \{`, `return X_Err`, `\}`), "to.Text($1)"},
	{value(`templ\.JoinStringErrs\((.*)\)`, `templ\.EscapeString\(X_Var\d+\)`), "to.Escaped($1)"},
	{value(`templruntime\.NewAttributeExpression\((.*)\)\.Resolve\(ctx\)`, `X_Var\d+`), "to.Attr($1)"},
	{value(`templruntime\.NewAttributeExpression\(templ\.SafeURL\((.*)\)\)\.ResolveURL\(ctx\)`, `X_Var\d+`), "to.Href($1)"},
	{value(`templruntime\.NewAttributeExpression\((.*)\)\.ResolveURL\(ctx\)`, `X_Var\d+`), "to.Address($1)"},
	{lines(`X_Err = (.*)\.Render\(ctx, X_Buffer\)`, `if X_Err != nil \{`, `return X_Err`, `\}`), "to.Put($1)"},
	{lines(`var _ = templruntime\.GeneratedTemplate`), ""},
	{regexp.MustCompile(`templ\.KV\(`), "markup.When("},
	{regexp.MustCompile(`\btempl\.Component\b`), "markup.Piece"},
}

// lines makes a pattern of whole lines; X_ stands for the beginning of templ's names.
func lines(ls ...string) *regexp.Regexp {
	return regexp.MustCompile(`(?m)^` + strings.ReplaceAll(strings.Join(ls, "\n"), "X_", name) + `$`)
}

// value is the shape of a value that is made, looked at and written.
func value(made, written string) *regexp.Regexp {
	return lines(`var X_Var\d+ string`, `X_Var\d+, X_Err = `+made, `if X_Err != nil \{`, `return templ\.Error\{.*\}`, `\}`,
		`_, X_Err = X_Buffer\.WriteString\(`+written+`\)`, `if X_Err != nil \{`, `return X_Err`, `\}`)
}

// texts are two writes of the template's own markup, one after the other.
var texts = regexp.MustCompile(`(?m)^to\.Text\((".*")\)\n+to\.Text\((".*")\)$`)

func rewritten(text string) ([]byte, error) {
	var out []string
	for l := range strings.Lines(text) {
		out = append(out, strings.TrimSpace(l))
	}
	text = strings.Join(out, "\n")
	for _, s := range shapes {
		text = s.from.ReplaceAllString(text, s.to)
	}
	for texts.MatchString(text) {
		text = texts.ReplaceAllStringFunc(text, func(two string) string {
			m := texts.FindStringSubmatch(two)
			a, errA := strconv.Unquote(m[1])
			b, errB := strconv.Unquote(m[2])
			if errA != nil || errB != nil {
				return "templ_ cannot be unquoted"
			}
			return "to.Text(" + strconv.Quote(a+b) + ")"
		})
	}
	text = strings.Replace(text, "//lint:file-ignore SA4006 This context is only used if a nested component is present.\n", "// Rewritten by scripts/retarget to rest on internal/base/markup.\n", 1)
	for i, l := range strings.Split(text, "\n") {
		if strings.Contains(l, name) || regexp.MustCompile(`\btempl(runtime)?\.`).MatchString(l) {
			return nil, fmt.Errorf("line %d is of no known shape: %s", i+1, l)
		}
	}
	for strings.Contains(text, "{\n\n") {
		text = strings.ReplaceAll(text, "{\n\n", "{\n")
	}
	return format.Source([]byte(text))
}
