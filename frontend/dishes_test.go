package frontend

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"flitchbook/api/store/storetest"
)

// The kitchen writes down a dish, corrects it and says what one dinner has. What is wrong
// is said beside the field with everything typed kept; what holds a severe need of the
// table (the coeliac at D1) cannot be ticked, nor sent past the page.
func TestDishesPages(t *testing.T) {
	h := storetest.SQLite(t)
	eightDine(t, h)
	site := kitchenSite(t, h, &jun)
	send := func(path string, v url.Values) (int, string) {
		r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(v.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		site.ServeHTTP(w, r)
		return w.Code, w.Body.String()
	}
	read := func(path string) string {
		w := httptest.NewRecorder()
		site.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
		return w.Body.String()
	}
	code, body := send("/staff/dishes", url.Values{"name": {"bread"}, "holds": {"egg"}, "board": {"<tray>"}, "kinds": {"pig"}})
	for _, want := range []string{"There is a dish of that name already.", `value="&lt;tray&gt;"`, `value="egg" checked`, `value="pig" checked`} {
		if code != http.StatusUnprocessableEntity || !strings.Contains(body, want) {
			t.Errorf("a name taken: %d, without %s", code, want)
		}
	}
	if code, _ = send("/staff/dishes", url.Values{"name": {"apple cake"}, "holds": {"egg", "wheat"}, "kinds": {"pig"}}); code != http.StatusSeeOther {
		t.Fatalf("a new dish: %d", code)
	}
	page := read("/staff/dishes")
	id, _, _ := strings.Cut(page[strings.Index(page, "?dish=")+len("?dish="):], "#")
	if !strings.Contains(read("/staff/dishes?dish="+id), `value="apple cake"`) || !strings.Contains(page, "<strong>egg, wheat</strong>") {
		t.Error("the new dish cannot be opened again")
	}
	menu := read("/staff/kitchen/D1/menu")
	for _, want := range []string{"apple cake: away", "It holds wheat, marked severe at this table.", "bread: away", "roast beef"} {
		if !strings.Contains(menu, want) {
			t.Errorf("the menu of D1 does not say %q", want)
		}
	}
	if code, body = send("/staff/kitchen/D1/menu", url.Values{"dish": {id}}); code != http.StatusUnprocessableEntity || !strings.Contains(body, "apple cake holds wheat, which somebody at this table marked severe") {
		t.Errorf("sent past the page: %d", code)
	}
	if code, _ = send("/staff/kitchen/D1/menu", url.Values{}); code != http.StatusSeeOther {
		t.Errorf("a dinner of bread and water: %d", code)
	}
	if sheet := read("/staff/kitchen/D1"); !strings.Contains(sheet, "Left out of this dinner:") || !strings.Contains(sheet, "AWAY FROM THIS TABLE</span> ") {
		t.Error("the sheet does not say what is left out and away")
	}
	if code, _ = send("/staff/dishes/"+id+"/gone", nil); code != http.StatusSeeOther || strings.Contains(read("/staff/dishes"), "apple cake") {
		t.Errorf("cooked no more: %d", code)
	}
}
