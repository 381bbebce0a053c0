package reckon_test

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"flitchbook/api/reckon"
)

func reckonInto(t *testing.T, kind, in string, out any) {
	t.Helper()
	raw, err := reckon.Run(kind, []byte(in))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, out); err != nil {
		t.Fatal(err)
	}
}

const cureHead = `{"recipe": {"salt": "2.2 %", "sugar": "1.1 %", "curing_salt": "0.25 %", "limit": "us-bacon-dry"},
	"lots": [{"id": "C-41", "nitrite": "6.25 %"}],
	"scale": {"name": "T1", "step": "0.1 g", "day": "2026-11-07", "checked": "2026-11-07", "reading": "5.0 g"}, "slabs": `

// Figures of the invented shop: a skin-on slab of 4.60 lb, and its refused weigh-out.
func TestCureKind(t *testing.T) {
	var out struct {
		Tickets []struct {
			Tag, Basis, Salt, Sugar string
			CuringSalt              string `json:"curing_salt"`
			Verdict                 struct{ Answer, Nitrite string }
			WeighOut                struct {
				Answer  string
				Reasons []string
			} `json:"weigh_out"`
			Model struct {
				Label string
				Days  int
			}
		}
	}
	reckonInto(t, "cure", cureHead+`[
		{"tag": "B1-07", "green": "4.60 lb", "skin_on": true, "weighed": "5.2"},
		{"tag": "B5-06", "green": "4.31 lb", "weighed": "5,0", "thickness_in": 1.5}]}`, &out)
	a, b := out.Tickets[0], out.Tickets[1]
	if got := strings.Join([]string{a.Basis, a.Salt, a.Sugar, a.CuringSalt, a.Verdict.Nitrite, a.Verdict.Answer}, " "); got != "1877.9 g 41 g 21 g 4.7 g 156.4 ppm ok" {
		t.Errorf("ticket: %s", got)
	}
	if a.WeighOut.Answer != "block" || !strings.Contains(a.WeighOut.Reasons[0], "10.6 % over") {
		t.Errorf("weigh-out of 5.2: %+v", a.WeighOut)
	}
	if b.WeighOut.Answer != "block" || !strings.Contains(b.WeighOut.Reasons[0], "comma") {
		t.Errorf("weigh-out with a comma: %+v", b.WeighOut)
	}
	if b.Model.Label != "salt, model" || b.Model.Days != 13 {
		t.Errorf("model: %+v", b.Model)
	}
}

// Every slab that cannot have a ticket is named, and none is printed.
func TestCureKindRefuses(t *testing.T) {
	strong := strings.Replace(cureHead, "6.25 %", "10 %", 1)
	for in, want := range map[string][]string{
		strong + `[{"tag": "B1-01", "green": "4.38 lb"}, {"tag": "B1-02", "green": "4.40 lb"}]}`:                           {"slabs[0]: 251.7 ppm is over the limit of 200 ppm", "slabs[1]: 250.5 ppm is over the limit of 200 ppm"},
		strings.Replace(cureHead, "us-bacon-dry", "moon", 1) + `[{"tag": "B1-01", "green": "4.38 lb"}]}`:                   {"recipe.limit: there is no such limit; there are: us-bacon-dry"},
		cureHead + `[{"tag": "B1-01", "green": "4.38 lb"}, {"tag": "B1-01", "green": "4.40 lb"}]}`:                         {"slabs[1].tag: slab B1-01 is listed twice"},
		cureHead + `[{"tag": "B1-01", "green": "-1 lb"}, {"tag": "B1-02", "green": "0 lb"}]}`:                              {"slabs[0].green: a weight must lie between", "slabs[1]: the slab has no weight (0 g)"},
		strings.Replace(cureHead, `"6.25 %"`, `"6.25 %", "nitrate": "4 %"`, 1) + `[{"tag": "B1-01", "green": "4.38 lb"}]}`: {"slabs[0]: the curing salt holds nitrate"},
		strings.Replace(cureHead, "0.1 g", "1 g", 1) + `[{"tag": "B1-01", "green": "4.38 lb"}]}`:                           {"slabs[0]: curing salt needs a scale that reads 0.1 g or finer"},
	} {
		out, err := reckon.Run("cure", []byte(in))
		var p *reckon.Problem
		if !errors.As(err, &p) || p.Status != 422 || out != nil {
			t.Errorf("Run = %s, %v", out, err)
			continue
		}
		for _, w := range want {
			if !strings.Contains(p.Error(), w) {
				t.Errorf("refused with %q, want %q", p, w)
			}
		}
	}
}
