package main

import (
	"bufio"
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"net/http/cookiejar"
	netmail "net/mail"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"flitchbook/api/shop"
	"flitchbook/mail/calendar/calendartest"
	"flitchbook/testdata/scenario"
)

// A postbox is a real mail server: it offers STARTTLS, wants a password, and hands on
// what it is given.
type postbox struct {
	port int
	cert string // file that vouches for it
	got  chan delivery
}

type delivery struct {
	from, to string
	secure   bool
	raw      []byte
}

type smtpSession struct {
	box  *postbox
	conn *smtp.Conn
	user string
	now  delivery
}

const smtpPassword = "salt and time"

func (s *smtpSession) AuthMechanisms() []string { return []string{sasl.Plain} }

func (s *smtpSession) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != "corbel" || password != smtpPassword {
			return smtp.ErrAuthFailed
		}
		s.user = user
		return nil
	}), nil
}

func (s *smtpSession) Mail(from string, _ *smtp.MailOptions) error {
	if s.user == "" {
		return smtp.ErrAuthRequired
	}
	s.now.from = from
	return nil
}

func (s *smtpSession) Rcpt(to string, _ *smtp.RcptOptions) error { s.now.to = to; return nil }

func (s *smtpSession) Data(r io.Reader) error {
	b, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	_, s.now.secure = s.conn.TLSConnectionState()
	s.now.raw = b
	s.box.got <- s.now
	return nil
}

func (s *smtpSession) Reset()        {}
func (s *smtpSession) Logout() error { return nil }

func openPostbox(t *testing.T) *postbox {
	t.Helper()
	box := &postbox{got: make(chan delivery, 20), cert: filepath.Join(t.TempDir(), "cert.pem")}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tmpl := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "mail.example.test"},
		NotBefore: time.Unix(0, 0), NotAfter: time.Unix(1<<33, 0), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(box.cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600); err != nil {
		t.Fatal(err)
	}
	srv := smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) { return &smtpSession{box: box, conn: c}, nil }))
	srv.Domain = "mail.example.test"
	srv.TLSConfig = &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	box.port = l.Addr().(*net.TCPAddr).Port
	done := make(chan struct{})
	go func() { defer close(done); _ = srv.Serve(l) }()
	t.Cleanup(func() { srv.Close(); <-done })
	return box
}

// served runs the program as a process of its own, set up by variables alone, and
// returns where it listens. It is asked to stop when the test ends, and must stop well.
func served(t *testing.T, env ...string) string {
	t.Helper()
	cmd := exec.Command(os.Args[0], "serve", "--listen", "127.0.0.1:0")
	cmd.Env = append(append(os.Environ(), reexec+"=1"), env...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
			t.Error(err)
		}
		if err := cmd.Wait(); err != nil {
			t.Errorf("stopped badly: %v", err)
		}
		if t.Failed() {
			t.Logf("%s", stderr.Bytes())
		}
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	m := regexp.MustCompile(`listening on ([0-9.:]+)`).FindStringSubmatch(line)
	if m == nil {
		t.Fatalf("it says %q, %v", line, err)
	}
	return "http://" + m[1]
}

// TestConfirmationComesByMail: a seat booked and paid for over HTTP, in a program set up
// to hand its messages to a mail server, and the confirmation with its invitation is
// there within a minute by the wall clock.
func TestConfirmationComesByMail(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		dir := t.TempDir()
		if database == "" {
			database = "sqlite:" + filepath.Join(dir, "shop.db")
		}
		password := filepath.Join(dir, "password")
		if err := os.WriteFile(password, []byte(smtpPassword+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		c := shopConfig{databaseConfig: databaseConfig{database}, SecretFile: filepath.Join(dir, "secret"), BaseURL: "http://127.0.0.1:8080", Domain: "corbel.example.test"}
		st, err := openStore(t.Context(), c, time.Now, randomBytes, slog.New(slog.DiscardHandler))
		if err != nil {
			t.Fatal(err)
		}
		if err := st.Furnish(t.Context(), keeper, scenario.Shop()); err != nil {
			t.Fatal(err)
		}
		if _, err := st.AddAccount(t.Context(), keeper, shop.NewAccount{Login: "nadia", Name: "Nadia", Role: shop.Staff, Password: testPassword}); err != nil {
			t.Fatal(err)
		}
		code := sell(t, st, 12)[0]
		if err := st.Close(); err != nil {
			t.Fatal(err)
		}
		box := openPostbox(t)
		v := &visitor{t: t, url: served(t,
			"SSL_CERT_FILE="+box.cert, "FLITCHBOOK_DATABASE="+database, "FLITCHBOOK_SECRET_FILE="+c.SecretFile, "FLITCHBOOK_DOMAIN="+c.Domain,
			"FLITCHBOOK_SMTP_HOST=127.0.0.1", "FLITCHBOOK_SMTP_PORT="+strconv.Itoa(box.port), "FLITCHBOOK_SMTP_USER=corbel",
			"FLITCHBOOK_SMTP_PASSWORD_FILE="+password, "FLITCHBOOK_MAIL_FROM=hello@corbel.example.test", "FLITCHBOOK_LOG_LEVEL=warn")}
		jar, err := cookiejar.New(nil)
		if err != nil {
			t.Fatal(err)
		}
		tr := &http.Transport{}
		defer tr.CloseIdleConnections()
		v.http = &http.Client{Jar: jar, Transport: tr, Timeout: 30 * time.Second}

		v.ask(http.MethodPost, "/api/v1/session", `{"login":"nadia","password":"`+testPassword+`"}`, http.StatusOK)
		b := v.ask(http.MethodPost, "/api/v1/classes/"+code+"/bookings", bookBody("nerys", 2), http.StatusOK)
		if dig(b, "state") != string(shop.Held) {
			t.Fatalf("%v", b)
		}
		number := dig(b, "number")
		amount, err := json.Marshal(dig(b, "due_now"))
		if err != nil {
			t.Fatal(err)
		}
		paid := v.ask(http.MethodPost, "/api/v1/bookings/"+number+"/payments", fmt.Sprintf(`{"amount":%s,"method":"card"}`, amount), http.StatusOK)
		pressed := time.Now()
		if dig(paid, "state") != string(shop.Firm) {
			t.Fatalf("%v", paid)
		}
		letter, how := confirmation(t, box)
		t.Logf("the confirmation was there %.2f s after the answer", time.Since(pressed).Seconds())
		if !how.secure || how.from != "hello@corbel.example.test" || how.to != "nerys@post.example.test" {
			t.Errorf("it came from %s to %s, in private: %v", how.from, how.to, how.secure)
		}
		h, err := netmail.ReadMessage(bytes.NewReader(how.raw))
		if err != nil || !strings.HasSuffix(h.Header.Get("Message-ID"), "@corbel.example.test>") {
			t.Errorf("Message-ID %q, %v", h.Header.Get("Message-ID"), err)
		}
		link, err := url.Parse(dig(b, "link"))
		if err != nil || !strings.Contains(strings.ReplaceAll(letter.text, "\r\n", "\n"), dig(b, "link")) {
			t.Errorf("the private link %v is not in the message:\n%s", link, letter.text)
		}
		_, file := v.get(link.Path + "/class.ics")
		kept := calendartest.Read(t, []byte(file))
		var class map[string]any
		for _, c := range v.ask(http.MethodGet, "/api/v1/classes", "", http.StatusOK)["classes"].([]any) {
			if dig(c, "code") == code {
				class = c.(map[string]any)
			}
		}
		if letter.method != "REQUEST" || len(letter.events) != 1 || len(kept) != 1 {
			t.Fatalf("method %q, %d entries by mail, %d in the file", letter.method, len(letter.events), len(kept))
		}
		inv := letter.events[0]
		if inv.Method != "REQUEST" || inv.UID != kept[0].UID || inv.Sequence != kept[0].Sequence || inv.Start != kept[0].Start || inv.Start != dig(class, "starts_at") || inv.Status != "CONFIRMED" {
			t.Errorf("invited to %+v; the file says %+v, the API %s", inv, kept[0], dig(class, "starts_at"))
		}
	})
}

// confirmation waits, a minute at most, for the message that says the seats are booked.
func confirmation(t *testing.T, box *postbox) (letter, delivery) {
	t.Helper()
	late := time.NewTimer(time.Minute)
	defer late.Stop()
	for {
		select {
		case d := <-box.got:
			if l := openLetter(t, d.raw); strings.HasPrefix(l.subject, "You are booked") {
				return l, d
			}
		case <-late.C:
			t.Fatal("a minute has passed and no confirmation has come")
		}
	}
}
