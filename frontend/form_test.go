package frontend

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
)

type formPage struct {
	Layout
	Form  Form
	Picks []Choice
}

const formTemplate = `{{define "main"}}<h1>Book</h1>
{{template "error-summary" .Form}}
<form method="post">{{template "once" .Form.Once}}
{{template "text-field" (.Form.Field "email" "E-mail" "type=email" "autocomplete=email" "required" "hint=We write once.")}}
{{template "number-field" (.Form.Field "weight" "Slab weight" "unit=lb" "required")}}
{{template "select-field" (.Form.Choose "seats" "Seats" .Picks "value=SC")}}
{{template "radio-group" (.Form.Choose "pick" "Spice" .Picks "required")}}
{{template "check-group" (.Form.Choose "needs" "Food needs" .Picks)}}
{{template "check-field" (.Form.Field "wine" "Wine" "checked")}}
{{template "long-field" (.Form.Field "note" "Note")}}
{{template "scan-field" (.Form.Field "tag" "Scan a tag")}}
</form>{{end}}`

func formHTML(t *testing.T, f Form) string {
	t.Helper()
	fsys := fstest.MapFS{"templates/form.html": {Data: []byte(formTemplate)}}
	r, err := parsedRenderer(testConfig(), fsys, map[string]Page{"form": {Public, formPage{}}})
	if err != nil {
		t.Fatal(err)
	}
	c, rec := visit(r, "/")
	p := formPage{Layout: r.Layout(c, "Book"), Form: f, Picks: []Choice{{Value: "PB", Label: "Pepper"}, {Value: "SC", Label: "Sesame", Hint: "has sesame"}}}
	if err := r.Render(c, http.StatusOK, "form", p); err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(rec.Body.String()), " ")
}

func wantAll(t *testing.T, html string, wants ...string) {
	t.Helper()
	for _, w := range wants {
		if !strings.Contains(html, w) {
			t.Errorf("the page lacks %s", w)
		}
	}
}

func TestFreshForm(t *testing.T) {
	html := formHTML(t, Form{Once: "tok-1"})
	wantAll(t, html,
		`<input type="hidden" name="once" value="tok-1">`,
		`<label for="f-email">E-mail</label>`,
		`<input id="f-email" name="email" type="email" value="" autocomplete="email" required aria-describedby="f-email-hint">`,
		`<label for="f-note">Note <span class="opt">(optional)</span></label>`,
		`<option value="SC" selected>`,
		`id="f-wine" name="wine" value="yes" checked`,
		`aria-describedby="f-pick-1-hint"`,
	)
	for _, not := range []string{`role="alert"`, "aria-invalid", `class="error"`} {
		if strings.Contains(html, not) {
			t.Errorf("a fresh form shows %s", not)
		}
	}
}

// TestRefusedForm: what was typed stays, each error stands at its field and the
// summary at the top leads to it (WCAG 2.2, 3.3.1 and technique G139; aria-invalid
// and aria-describedby per ARIA21 and ARIA1).
func TestRefusedForm(t *testing.T) {
	f := Form{Values: url.Values{
		"email": {`"odd" <at> example.test`}, "weight": {"4,6"}, "seats": {"PB"}, "needs": {"SC"}, "note": {"see </textarea> you"}, "pick": {""},
	}}
	f.Fail("weight", "Write a point, not a comma.")
	f.Fail("weight", "Second complaint.")
	f.Fail("email", "This is no address.")
	f.Fail("", "The class has moved.")
	f.Fail("pick", "Choose a spice.")
	html := formHTML(t, f)
	wantAll(t, html,
		`role="alert"`,
		`value="&#34;odd&#34; &lt;at&gt; example.test"`,
		`<input id="f-weight" name="weight" type="text" value="4,6" autocomplete="off" inputmode="decimal" required aria-invalid="true" aria-describedby="f-weight-unit f-weight-error">`,
		`id="f-weight-error"><span class="sr">Error: </span>Write a point, not a comma.</p>`,
		`<option value="PB" selected>`,
		`id="f-needs-1" name="needs" value="SC" checked`,
		`see &lt;/textarea&gt; you</textarea>`,
		`<li>The class has moved.</li> <li><a href="#f-weight">Write a point, not a comma.</a></li> <li><a href="#f-email">This is no address.</a></li> <li><a href="#f-pick">Choose a spice.</a></li>`,
		`<input type="radio" id="f-pick" name="pick"`,
	)
	if strings.Contains(html, `name="wine" value="yes" checked`) {
		t.Error("a box left open came back ticked")
	}
	if strings.Contains(html, "Second complaint") {
		t.Error("the second complaint about a field covers the first")
	}
}

func TestProblemsFollowThePage(t *testing.T) {
	f := Form{Errors: map[string]string{"b": "B", "a": "A"}, Order: []string{"d", "c", "gone"}, Prefix: "g2-"}
	f.Fail("c", "C")
	f.Fail("d", "D")
	want := []Problem{{"#g2-f-d", "D"}, {"#g2-f-c", "C"}, {"#g2-f-a", "A"}, {"#g2-f-b", "B"}}
	if got := f.Problems(); !slices.Equal(got, want) {
		t.Errorf("Problems = %v, want %v", got, want)
	}
}

func TestUnknownOptionIsAMistake(t *testing.T) {
	if _, err := (Form{}).Field("a", "A", "requird"); err == nil {
		t.Error("a mistyped option passed")
	}
}
