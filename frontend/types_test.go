package frontend

import (
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/jba/templatecheck"
)

// checkTypes holds a template against its struct in all its branches, also those
// that no execution in a test reaches.
func checkTypes(t *testing.T, pageFS fs.FS, name string, p Page) error {
	t.Helper()
	tmpl, err := parsePage(funcs(testRenderer(t).static), pageFS, name, p.Kind)
	if err != nil {
		t.Fatal(err)
	}
	return templatecheck.CheckHTML(tmpl, p.Data)
}

func TestTypes(t *testing.T) {
	for name, p := range Pages() {
		if err := checkTypes(t, files, name, p); err != nil {
			t.Errorf("page %s: %v", name, err)
		}
	}
	for name, p := range samplePages {
		if err := checkTypes(t, mergedPages{}, name, p); err != nil {
			t.Errorf("page %s: %v", name, err)
		}
	}
}

// TestTypesSeesHiddenBranches: the check itself, on a mistyped field that no
// execution reaches.
func TestTypesSeesHiddenBranches(t *testing.T) {
	fsys := fstest.MapFS{"templates/p.html": {Data: []byte(`{{define "main"}}{{if eq .Title "never"}}{{.Titel}}{{end}}{{end}}`)}}
	err := checkTypes(t, fsys, "p", Page{Public, orphanPage{}})
	if err == nil || !strings.Contains(err.Error(), "Titel") {
		t.Errorf("a mistyped field was not seen: %v", err)
	}
}
