package main

import (
	"strings"
	"testing"
)

// Two writes of markup become one, and what templ writes in no known shape stops the command.
func TestRewritten(t *testing.T) {
	write := func(n, s string) string {
		return "\t\ttempl_7745c5c3_Err = templruntime.WriteString(templ_7745c5c3_Buffer, " + n + ", \"" + s + "\")\n\t\tif templ_7745c5c3_Err != nil {\n\t\t\treturn templ_7745c5c3_Err\n\t\t}\n"
	}
	head := "package x\n\nimport \"github.com/a-h/templ\"\nimport templruntime \"github.com/a-h/templ/runtime\"\n\nfunc f() {\n"
	got, err := rewritten(head + write("1", "<p>") + write("2", "</p>") + "}\n")
	if err != nil || !strings.Contains(string(got), `to.Text("<p></p>")`) || !strings.Contains(string(got), markup) || strings.Contains(string(got), "a-h/templ") {
		t.Errorf("%v\n%s", err, got)
	}
	if got, err := rewritten(head + "\ttempl_7745c5c3_Err = templruntime.Unheard(of)\n}\n"); err == nil {
		t.Errorf("an unknown shape came out as\n%s", got)
	}
}
