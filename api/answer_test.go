package api_test

import (
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
)

// An answer is drafted from the records, changed by whoever sends it, and leaves once for
// each key; two people's keys are two. What no mail can carry is refused, every field named.
func TestSendingAnAnswerOverTheAPI(t *testing.T) {
	d := openDoor(t)
	petraAndBo(d)
	more := func(want string) {
		t.Helper()
		if got := d.letters(shop.NoticeLetter); len(got) != 1 || got[0].ToAddr != "petra@post.example.test" || !strings.Contains(got[0].Facts, want) {
			t.Errorf("want one letter with %q: %+v", want, got)
		}
	}
	send := `{"to":"petra@post.example.test","name":"Petra M.","subject":"Your question","body":"Yes, you may.\n\nNadia"}`
	d.ask("/answers/send", send, 401, "Idempotency-Key", "a")
	d.who = shop.Actor{Kind: "staff", ID: 4, Name: "Jun", Role: shop.Kitchen}
	d.ask("/answers/send", send, 403, "Idempotency-Key", "a")

	d.who = storetest.Nadia
	draft := d.ask("/answers/draft", `{"sender":"petra@post.example.test","about":"change"}`, 200)
	d.is(draft, map[string]any{"email": "petra@post.example.test", "bookings": []any{"K01"}})
	d.ask("/answers/send", send, 422) // without a key
	bad := d.ask("/answers/send", `{"to":"petra","name":"Petra\r\nBcc: x@y.example.test","subject":"One\nand two","body":" "}`, 422, "Idempotency-Key", "a")
	var fields []string
	for _, e := range bad["errors"].([]any) {
		fields = append(fields, dig(e, "field").(string))
	}
	if got := strings.Join(fields, " "); got != "body name subject to" {
		t.Errorf("wrong fields named: %s in %v", got, bad)
	}
	d.ask("/answers/send", strings.Replace(send, "Yes", strings.Repeat("Yes ", 1250), 1), 422, "Idempotency-Key", "a")
	if got := d.letters(shop.NoticeLetter); len(got) != 0 {
		t.Fatalf("refused, and written all the same: %v", got)
	}
	for range 2 {
		d.send("POST", "/answers/send", send, 204, "Idempotency-Key", "a")
	}
	d.is(d.ask("/answers/send", strings.Replace(send, "may", "may not", 1), 422, "Idempotency-Key", "a"), map[string]any{"code": "key_reused"})
	more("Yes, you may.") // once
	d.who = storetest.Tobias
	d.send("POST", "/answers/send", strings.Replace(send, "Nadia", "Tobias", 1), 204, "Idempotency-Key", "a")
	more("Tobias") // another person's, under the same word of their own
}
