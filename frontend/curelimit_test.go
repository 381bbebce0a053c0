package frontend

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
)

// The owner's page of limits: what is not checked is marked, approving takes its tick, its
// whom and its what, and nothing typed is lost. Limits as in planner/cure.
func TestLimitsPage(t *testing.T) {
	o := openOffice(t)
	page := o.has("/owner/limits", nil, http.StatusOK, "United States: bacon, dry", "120 to 200 ppm of sodium nitrite put in", "approved by Odile on Mon Jan 5, with the county inspector",
		"Canada: bacon, dry", "NOT CHECKED: this limit is known only as another page quotes it", "NOT CHECKED: this limit is from memory", "80 ppm of nitrite ion put in",
		"no ticket can prove it", "none may be used")
	if i := strings.Index(page, "<section"); i < 0 || !strings.Contains(page[i:i+500], "chosen") {
		t.Error("the chosen limit is not the first")
	}
	o.has("/owner/limits/approval", url.Values{"code": {"ca-side-bacon"}, "with": {"the office"}}, http.StatusUnprocessableEntity, "Tick this once", `value="the office"`)
	o.has("/owner/limits/approval", url.Values{"code": {"ca-side-bacon"}, "checked": {"on"}, "with": {"the office"}}, http.StatusUnprocessableEntity, "What did you look at?", `value="the office"`)
	o.has("/owner/limits/choice", url.Values{"code": {"ca-side-bacon"}}, http.StatusUnprocessableEntity, "Say why this limit")
	o.has("/owner/limits/choice", url.Values{"code": {"eu-dry-residual"}, "why": {"sold there"}}, http.StatusUnprocessableEntity, "no ticket can prove it")
	o.has("/owner/limits/approval", url.Values{"code": {"ca-side-bacon"}, "checked": {"on"}, "with": {"the office"}, "why": {"the manual of that year"}}, http.StatusOK,
		"with the office: the manual of that year")
	o.has("/owner/limits/choice", url.Values{"code": {"ca-side-bacon"}, "why": {"moved"}}, http.StatusOK, "Canada: bacon, dry")
	lines, err := o.CureLimits(o.Ctx)
	o.must(err)
	if lines[0].Code != "ca-side-bacon" || lines[0].ChosenBy != "Odile" {
		t.Errorf("chosen: %+v", lines[0])
	}
	o.who = storetest.Tobias
	o.has("/owner/limits", nil, http.StatusForbidden)
	o.has("/owner/limits/choice", url.Values{"code": {"us-bacon-dry"}, "why": {"back"}}, http.StatusForbidden)
}

// At the bench: a limit nobody approved is marked on screen and on the kit list, the
// weighing error of the scale stands beside the ticket, and curing salt with nitrate stops
// with its reason (FSIS Directive 7620.3 p. 28, read where quoted).
func TestLimitAtTheBench(t *testing.T) {
	w := newWorkshop(t)
	w.done("/staff/bench/cut", "tag", "B3-01", "weight", "5.00", "skin", "off", "once", "c")
	w.done("/staff/bench/kit", "tag", "B3-01", "once", "k")
	w.done("/staff/bench/scale", "tag", "B3-01", "scale", "cure scale", "shown", "5.0")
	page := w.says("/staff/bench?tag=B3-01", "157.1 ppm, ± 1.4 ppm on cure scale, which reads 0.10 g", "Limit: 120 to 200 ppm of sodium nitrite put in")
	if strings.Contains(page, "NOT CHECKED") {
		t.Error("the approved limit is marked")
	}
	w.says("/staff/classes/B3/kitlist", "Limit: 120 to 200 ppm", "10 % of a skin-on slab", "with the county inspector", "nitrite ± 1.6 ppm at most")
	weigh := []string{"tag", "B3-01", "salt", "50", "sugar", "25", "cure", "5.7", "spice", "32", "scale", "cure scale", "once", "w"}
	if err := w.ChooseLimit(w.Ctx, storetest.Odile, "eu-added-salt", "sold there"); err != nil {
		t.Fatal(err)
	}
	w.says("/staff/bench?tag=B3-01", "157.1 ppm is over the limit of 150 ppm")
	w.says("/staff/classes/B3/kitlist", "STOP", "over the limit of 150 ppm", "NOT CHECKED: the skin&#39;s share is proposed here")
	w.stopped(409, "/staff/bench/weigh", []string{"over the limit of 150 ppm"}, weigh...)
	if err := w.ChooseLimit(w.Ctx, storetest.Odile, "us-bacon-dry", "back"); err != nil {
		t.Fatal(err)
	}
	if err := w.OpenLot(w.Ctx, storetest.Tobias, store.NewLot{Ingredient: "curing salt", Code: "CS-2", Nitrite: "5.669 %", Nitrate: "3.628 %"}); err != nil {
		t.Fatal(err)
	}
	w.says("/staff/bench?tag=B3-01", "the curing salt holds nitrate", "none may be used in bacon")
	w.stopped(409, "/staff/bench/weigh", []string{"nitrate", "none may be used in bacon"}, weigh...)
	w.stopped(409, "/staff/bench/seal", []string{"nitrate"}, "tag", "B3-01", "once", "s")
}
