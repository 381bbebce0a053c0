package browsertest

import (
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// TestFindsFaults: every eye of the kit sees the fault it is there for. A kit that
// finds nothing would make every page look well.
func TestFindsFaults(t *testing.T) {
	b := Start(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'self'; img-src *")
		fmt.Fprint(w, `<!doctype html><html lang="en"><title>Bad</title><main><h1>Bad</h1>
			<form><input name="nameless"><button>x</button></form>
			<p>A <a href="/">link in a sentence</a>.</p>
			<pre>`+strings.Repeat("wide", 60)+`</pre>
			<script>document.title = "inline"</script>
			<img alt="" src="http://127.0.0.2:9/away.png"></main></html>`)
	}))
	tab := b.Tab(t, SmallPhone)
	tab.Open("/")
	if wide := tab.tooWide(); !strings.Contains(strings.Join(wide, " "), "pre") {
		t.Errorf("the wide line was not seen: %v", wide)
	}
	small := tab.tooSmall("main", 48)
	if len(small) != 2 || !strings.HasPrefix(small[0], "nameless") || !strings.HasPrefix(small[1], "x ") {
		t.Errorf("too small are the box and the button, not %q", small)
	}
	if !slices.ContainsFunc(tab.violations(nil), func(v violation) bool { return v.ID == "label" }) {
		t.Error("axe did not see the box without a label")
	}
	if slices.ContainsFunc(tab.violations([]string{"label"}), func(v violation) bool { return v.ID == "label" }) {
		t.Error("a rule left out was still run")
	}
	if got, has := tab.printWidth(); got <= has+1 {
		t.Errorf("the wide line fits the paper: %d of %d px", got, has)
	}
	troubles := strings.Join(tab.Troubles(), "\n")
	for _, want := range []string{"127.0.0.2", "Content Security Policy"} {
		if !strings.Contains(troubles, want) {
			t.Errorf("no trouble about %s in:\n%s", want, troubles)
		}
	}
}

// TestMissingTool runs itself on a machine without programs.
func TestMissingTool(t *testing.T) {
	if os.Getenv("BROWSERTEST_BARE") != "" {
		Need(t, "chromium", "package chromium")
		return
	}
	for ci, fails := range map[string]bool{"true": true, "": false} {
		cmd := exec.Command(os.Args[0], "-test.run=^TestMissingTool$", "-test.v")
		cmd.Env = []string{"BROWSERTEST_BARE=1", "PATH=/nowhere", "CI=" + ci}
		out, err := cmd.CombinedOutput()
		if (err != nil) != fails {
			t.Errorf("CI=%q: %v\n%s", ci, err, out)
		}
		if !strings.Contains(string(out), "NOT CHECKED: this machine lacks the program chromium") {
			t.Errorf("CI=%q: no loud word:\n%s", ci, out)
		}
	}
}
