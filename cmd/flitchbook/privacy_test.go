package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"flitchbook/api/shop"
)

// No answer about food reaches the wrong eyes: words planted as answers are looked for on
// every page and in every JSON answer there is, as a visitor, with every secret link of
// the party and of others, and as kitchen, staff and owner. Only the places listed may
// show them, and only to the roles listed.
func TestFoodAnswersReachOnlyTheTable(t *testing.T) {
	h := storyAt(t, "", "2026-10-20 12:00")
	// Marks are planted on a party that comes to D3 (a dinner) and one of B4 (a bacon class).
	mark := map[int]string{44: "zibblewort", 19: "quandlemoss"}
	var secrets []string
	for _, number := range []int{44, 19, 21} { // K21 is another party of B4
		b, err := h.BookingByNumber(t.Context(), number)
		if err != nil {
			t.Fatal(err)
		}
		secrets = append(secrets, "/b/"+b.Secret, "/s/"+b.SlabSecret)
		for _, p := range b.People {
			secrets = append(secrets, "/g/"+p.Secret)
		}
		if word := mark[number]; word != "" {
			err := h.SaveNeeds(t.Context(), shop.Customer("guest by link"), b.People[1].GuestID, shop.Answers{State: shop.HasNeeds,
				Needs: []shop.NewNeed{{Allergen: "other", Words: word}, {Allergen: "celery", Severe: true}}})
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	// Who may read them where: the people who cook and set the tables of that class, and
	// the owner who hands a person their own data.
	may := func(path, who string) bool {
		if who == "" {
			return false
		}
		switch {
		case strings.HasPrefix(path, "/staff/kitchen/"), strings.HasPrefix(path, "/api/v1/dinners/"):
			return true
		case strings.HasPrefix(path, "/staff/classes/"), strings.HasPrefix(path, "/staff/bookings/"), strings.HasPrefix(path, "/api/v1/classes/D3"), strings.HasPrefix(path, "/api/v1/classes/B4"):
			return who == "tobias" || who == "odile"
		case strings.HasPrefix(path, "/owner/people/"), strings.HasPrefix(path, "/api/v1/people/"):
			return who == "odile"
		}
		return false
	}
	seen, asked := map[string]bool{}, 0
	for _, who := range []string{"", "jun", "tobias", "odile"} {
		v := h.signedIn(t, who)
		for _, path := range everyAddress(t, h, secrets) {
			res, body := v.get(path)
			asked++
			if res.StatusCode >= 500 {
				t.Errorf("%s as %q: %d", path, who, res.StatusCode)
			}
			for _, word := range mark {
				if strings.Contains(body, word) {
					seen[path] = true
					if !may(path, who) {
						t.Errorf("%s as %q shows what somebody answered about food", path, who)
					}
				}
			}
		}
	}
	t.Logf("%d addresses asked; the words stand on %d of them", asked, len(seen))
	if len(seen) < 3 { // the test must be able to see them
		t.Errorf("the planted words were seen on %d pages only: %v", len(seen), seen)
	}
	// Nor in any message, nor in the log.
	sent := 0
	if _, err := h.Deliver(t.Context(), func(_ context.Context, n shop.Notice, f shop.Facts) error {
		sent++
		if text := n.Facts + fmt.Sprint(f); strings.Contains(text, "zibblewort") || strings.Contains(text, "quandlemoss") {
			t.Errorf("a %s message says it", n.Kind)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if log := h.Log.String(); strings.Contains(log, "zibblewort") || strings.Contains(log, "quandlemoss") {
		t.Error("the log says it")
	}
}

// everyAddress fills every route that is read with things there are: each class, booking,
// person, slab, order; and the secret links given. In random order.
func everyAddress(t *testing.T, h *house, secrets []string) []string {
	t.Helper()
	fill := map[string][]string{
		":code": {"B4", "D3", "B5", "P1"}, ":number": {"44", "19", "21", "1"}, ":day": {"2026-10-27", "2026-10-20"}, ":tag": {"B1-01", "B2-03"},
		":step": {"weigh"}, ":key": {"short/1"}, ":name": {"fine"}, ":hash": {"none"},
	}
	var guests, seats []string
	for _, number := range []int{44, 19} {
		b, err := h.BookingByNumber(t.Context(), number)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range b.People {
			guests, seats = append(guests, fmt.Sprint(p.GuestID)), append(seats, fmt.Sprint(p.SeatID))
		}
	}
	fill[":guest"], fill[":seat"] = guests, seats
	fill[":id"] = append([]string{"1", "2"}, guests...)
	var out []string
	for _, r := range routesOf(t, h) {
		if r.method != http.MethodGet || strings.HasPrefix(r.path, "/static") {
			continue
		}
		if i := strings.Index(r.path, ":secret"); i >= 0 {
			for _, s := range secrets {
				if strings.HasPrefix(r.path, s[:3]) {
					out = append(out, s+strings.TrimPrefix(r.path, r.path[:i]+":secret"))
				}
			}
			continue
		}
		paths := []string{""}
		for _, part := range strings.Split(strings.Trim(r.path, "/"), "/") {
			with := []string{part}
			if strings.HasPrefix(part, ":") {
				if with = fill[part]; with == nil {
					with = []string{"1"}
				}
			}
			var next []string
			for _, p := range paths {
				for _, w := range with {
					next = append(next, p+"/"+url.PathEscape(w))
				}
			}
			paths = next
		}
		out = append(out, paths...)
	}
	slices.Sort(out)
	out = slices.Compact(out)
	rand.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}
