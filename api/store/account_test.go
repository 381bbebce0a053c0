package store_test

import (
	"encoding/base64"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
)

const longEnough = "three words in a row"

func addAccount(t *testing.T, h *storetest.House, login string, role shop.Role) *shop.Account {
	t.Helper()
	a, err := h.AddAccount(h.Ctx, storetest.Odile, shop.NewAccount{Login: login, Name: strings.ToUpper(login), Role: role, Password: longEnough})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestNewAccountSaysAllThatIsWrong(t *testing.T) {
	err := shop.NewAccount{Login: "Ö dile", Role: "boss", Password: "short"}.Check()
	e, ok := shop.AsError(err)
	if !ok || e.Kind != shop.Invalid {
		t.Fatal(err)
	}
	for _, f := range []string{"login", "name", "role", "password"} {
		if e.Fields[f] == "" {
			t.Errorf("nothing is said about %s", f)
		}
	}
}

// NIST SP 800-63B (2017), 5.1.1.2: at least 8 characters, 64 must be possible, all
// characters are taken, spaces and Unicode too, and none is demanded.
func TestPasswordsAreJudgedByLength(t *testing.T) {
	for _, good := range []string{strings.Repeat("ab", 32), "correct staple horse", "пароль из слов", "aaaaaaaaaaab"} {
		if err := shop.CheckNewPassword("odile", good); err != nil {
			t.Errorf("%q: %v", good, err)
		}
	}
	for _, bad := range []string{"", "eleven char", strings.Repeat("x", 300), "aaaaaaaaaaaaaa", "odileodileodile", "Odile Odile Odile"} {
		if err := shop.CheckNewPassword("odile", bad); err == nil {
			t.Errorf("%q is taken", bad)
		}
	}
}

func TestSignIn(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		a := addAccount(t, h, "nadia", shop.Staff)
		if a.PasswordHash != "" {
			t.Error("the hash went out")
		}
		got, stamp, err := h.CheckPassword(h.Ctx, " NADIA ", longEnough)
		if err != nil || got.ID != a.ID || got.PasswordHash != "" {
			t.Fatal(got, err)
		}
		by, ok, err := h.SignedIn(h.Ctx, a.ID, stamp)
		if err != nil || !ok || by.Role != shop.Staff || by.Name != "NADIA" || by.ID != a.ID {
			t.Fatal(by, ok, err)
		}
		// One answer, whether there is no such login or the password is wrong.
		_, _, wrong := h.CheckPassword(h.Ctx, "nadia", longEnough+"x")
		_, _, nobody := h.CheckPassword(h.Ctx, "nobody", longEnough)
		_, _, endless := h.CheckPassword(h.Ctx, "nadia", strings.Repeat("x", 5000))
		for _, err := range []error{wrong, nobody, endless} {
			if !errors.Is(err, shop.ErrSignIn) || err.Error() != wrong.Error() {
				t.Errorf("%v", err)
			}
		}
		if _, err := h.AddAccount(h.Ctx, storetest.Odile, shop.NewAccount{Login: "nadia", Name: "N", Role: shop.Staff, Password: longEnough}); err == nil {
			t.Error("a login was given twice")
		} else if e, ok := shop.AsError(err); !ok || e.Kind != shop.Conflict {
			t.Error(err)
		}

		// Another password ends the sessions opened with the old one.
		if err := h.SetPassword(h.Ctx, storetest.Odile, "nadia", "quite another sentence"); err != nil {
			t.Fatal(err)
		}
		if _, ok, err := h.SignedIn(h.Ctx, a.ID, stamp); ok || err != nil {
			t.Error("a session outlived its password", err)
		}
		if _, _, err := h.CheckPassword(h.Ctx, "nadia", longEnough); err == nil {
			t.Error("the old password still opens")
		}
		_, stamp, err = h.CheckPassword(h.Ctx, "nadia", "quite another sentence")
		if err != nil {
			t.Fatal(err)
		}
		if err := h.DisableAccount(h.Ctx, storetest.Odile, "nadia"); err != nil {
			t.Fatal(err)
		}
		if _, ok, err := h.SignedIn(h.Ctx, a.ID, stamp); ok || err != nil {
			t.Error("a session outlived its account", err)
		}
		if _, _, err := h.CheckPassword(h.Ctx, "nadia", "quite another sentence"); err == nil || err.Error() != wrong.Error() {
			t.Errorf("a disabled account answers %v", err)
		}
		if err := h.SetPassword(h.Ctx, storetest.Odile, "ghost", longEnough); err == nil {
			t.Error("nobody got a password")
		}
		all, err := h.Accounts(h.Ctx)
		if err != nil || len(all) != 1 || !all[0].Disabled || all[0].PasswordHash != "" {
			t.Errorf("%+v %v", all, err)
		}
	})
}

func TestTheLastOwnerStays(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		addAccount(t, h, "odile", shop.Owner)
		addAccount(t, h, "second", shop.Owner)
		addAccount(t, h, "jun", shop.Kitchen)
		var wg sync.WaitGroup
		errs := make([]error, 2)
		for i, login := range []string{"odile", "second"} {
			wg.Go(func() { errs[i] = h.DisableAccount(h.Ctx, storetest.Odile, login) })
		}
		wg.Wait()
		if (errs[0] == nil) == (errs[1] == nil) {
			t.Fatalf("two owners disabled each other: %v, %v", errs[0], errs[1])
		}
		if err := h.DisableAccount(h.Ctx, storetest.Odile, "jun"); err != nil {
			t.Error(err)
		}
	})
}

// The form of a stored hash: RFC 9106 parameters in the order of the PHC string format;
// 19 MiB, two passes, one lane (OWASP password storage cheat sheet, argon2id).
func TestStoredHash(t *testing.T) {
	h := storetest.SQLite(t)
	addAccount(t, h, "one", shop.Staff)
	addAccount(t, h, "two", shop.Staff)
	var hashes []string
	if err := behind(t, h).Raw("SELECT password_hash FROM accounts ORDER BY login").Scan(&hashes).Error; err != nil {
		t.Fatal(err)
	}
	if hashes[0] == hashes[1] {
		t.Error("one password, one hash: no salt")
	}
	p := strings.Split(hashes[0], "$")
	if len(p) != 6 || p[1] != "argon2id" || p[2] != "v=19" || p[3] != "m=19456,t=2,p=1" {
		t.Fatal(hashes[0])
	}
	if salt, err := base64.RawStdEncoding.DecodeString(p[4]); err != nil || len(salt) != 16 {
		t.Error(salt, err)
	}
}

func TestSessionsAreKeptAndEnd(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		var wall storetest.Clock
		wall.Set(h.At("2030-01-01 12:00")) // not the shop's clock
		ss := h.Sessions(wall.Now)
		for _, tok := range []string{"a", "b"} {
			if err := ss.Commit(tok, []byte("data "+tok), wall.Now().Add(time.Hour)); err != nil {
				t.Fatal(err)
			}
		}
		if b, ok, err := ss.Find("a"); !ok || err != nil || string(b) != "data a" {
			t.Fatal(string(b), ok, err)
		}
		if err := ss.Commit("a", []byte("again"), wall.Now().Add(2*time.Hour)); err != nil {
			t.Fatal(err)
		}
		if err := ss.Delete("b"); err != nil {
			t.Fatal(err)
		}
		if _, ok, err := ss.Find("b"); ok || err != nil {
			t.Error("a deleted session is found", err)
		}
		wall.Add(90 * time.Minute)
		if b, ok, err := ss.Find("a"); !ok || err != nil || string(b) != "again" {
			t.Error(string(b), ok, err)
		}
		wall.Add(time.Hour)
		if _, ok, err := ss.Find("a"); ok || err != nil {
			t.Error("an expired session is found", err)
		}
		if err := ss.Commit("c", []byte{0}, wall.Now().Add(time.Hour)); err != nil {
			t.Fatal(err)
		}
		var left int
		if err := behind(t, h).Raw("SELECT count(*) FROM sessions").Scan(&left).Error; err != nil || left != 1 {
			t.Errorf("%d sessions are left, want 1 (%v)", left, err)
		}
	})
}
