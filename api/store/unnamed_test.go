package store_test

import (
	"context"
	"errors"
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
)

// TestLogOfUnsentNotices: why a message did not go stands in the log, to whom does not,
// however the mail server names them. The words are as RFC 5321 and RFC 3463 have servers
// answer.
func TestLogOfUnsentNotices(t *testing.T) {
	for _, tc := range []struct{ said, want string }{
		{"550 5.1.1 <ulla.freund@post.example.test>: Recipient address rejected", "550 5.1.1 <(address)>: Recipient address rejected"},
		{"550 No such user ULLA.FREUND here", "550 No such user (name) here"},
		{"553 mailbox of Ulla F. is closed", "553 mailbox of (name) (name). is closed"},
		{`"ulla.freund@post.example.test" is not a mail address we can write to`, `"(address)" is not a mail address we can write to`},
		{"mail server mail.example.test:587, call: connection refused", "mail server mail.example.test:587, call: connection refused"},
	} {
		h := storetest.SQLite(t)
		class(t, h, "B9", "bacon", "2026-10-10 14:00")
		h.Go("2026-09-12 12:00")
		n := party("B9", "Ulla F.", 1)
		n.PayerEmail = "ulla.freund@post.example.test"
		bought(t, h, n)
		s, out := logging(t, h)
		if _, err := s.Deliver(h.Ctx, func(context.Context, shop.Notice, shop.Facts) error { return errors.New(tc.said) }); err != nil {
			t.Error(err)
		}
		log := strings.ReplaceAll(out.String(), `\"`, `"`)
		if !strings.Contains(log, tc.want) {
			t.Errorf("%s: the log says\n%swant %s", tc.said, log, tc.want)
		}
		for _, never := range []string{"ulla", "freund"} {
			if strings.Contains(strings.ToLower(log), never) {
				t.Errorf("%s: the log names %s: %s", tc.said, never, log)
			}
		}
	}
}
