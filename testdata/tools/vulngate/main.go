// Vulngate reads what govulncheck -json found and fails when the program calls
// something vulnerable that nobody has judged. The judgements stand in a file, a line
// each: an id (or "stdlib" for whatever a newer toolchain would mend) and the reason.
package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
)

type message struct {
	OSV *struct {
		ID      string `json:"id"`
		Summary string `json:"summary"`
	} `json:"osv"`
	Finding *struct {
		OSV   string `json:"osv"`
		Fixed string `json:"fixed_version"`
		Trace []struct {
			Module   string `json:"module"`
			Version  string `json:"version"`
			Package  string `json:"package"`
			Function string `json:"function"`
		} `json:"trace"`
	} `json:"finding"`
}

// A hole is one vulnerability the program reaches: by a call, not only by an import.
type hole struct {
	id, where, fixed string
	stdlib           bool
}

func main() {
	if len(os.Args) != 2 {
		fail("usage: govulncheck -json ./... | vulngate JUDGEMENTS")
	}
	judged, err := readJudgements(os.Args[1])
	if err != nil {
		fail(err.Error())
	}
	holes, summary, scanned, err := read(os.Stdin)
	if err != nil {
		fail("govulncheck's output: " + err.Error())
	}
	if !scanned {
		fail("govulncheck said nothing: no database, or it did not run")
	}
	used := map[string]bool{}
	open := 0
	for _, h := range holes {
		key := h.id
		if _, ok := judged[key]; !ok && h.stdlib {
			key = "stdlib"
		}
		why, ok := judged[key]
		if !ok {
			open++
			fmt.Printf("OPEN     %s %s\n         called at %s; mended in %s\n", h.id, summary[h.id], h.where, h.fixed)
			continue
		}
		used[key] = true
		fmt.Printf("judged   %s (%s; mended in %s): %s\n", h.id, h.where, h.fixed, why)
	}
	for key := range judged {
		if !used[key] {
			fmt.Printf("stale    %s is judged but no longer found: take its line away\n", key)
		}
	}
	if open > 0 {
		fail(fmt.Sprintf("%d vulnerabilities are called and not judged: raise the module's version, or write the reason why it does no harm into %s", open, os.Args[1]))
	}
	fmt.Printf("vulnerabilities: %d called, all judged\n", len(holes))
}

func fail(text string) {
	fmt.Fprintln(os.Stderr, "vulngate:", text)
	os.Exit(1)
}

func readJudgements(name string) (map[string]string, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	out := map[string]string{}
	for s := bufio.NewScanner(f); s.Scan(); {
		line := strings.TrimSpace(s.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		id, why, _ := strings.Cut(line, " ")
		if why = strings.TrimSpace(why); why == "" {
			return nil, fmt.Errorf("%s: %s is judged without a reason", name, id)
		}
		out[id] = why
	}
	return out, nil
}

func read(in io.Reader) (holes []hole, summary map[string]string, scanned bool, err error) {
	summary = map[string]string{}
	for d := json.NewDecoder(in); ; {
		var m message
		if err := d.Decode(&m); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, nil, false, err
		}
		scanned = true
		if m.OSV != nil {
			summary[m.OSV.ID] = m.OSV.Summary
		}
		f := m.Finding
		if f == nil || len(f.Trace) == 0 || f.Trace[0].Function == "" {
			continue
		}
		t := f.Trace[0]
		if slices.ContainsFunc(holes, func(h hole) bool { return h.id == f.OSV }) {
			continue
		}
		fixed := f.Fixed
		if fixed == "" {
			fixed = "no release yet"
		}
		holes = append(holes, hole{f.OSV, t.Package + "." + t.Function, fixed, t.Module == "stdlib"})
	}
	slices.SortFunc(holes, func(a, b hole) int { return strings.Compare(a.id, b.id) })
	return holes, summary, scanned, nil
}
