package mail

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"io"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"flitchbook/api/shop"
)

// A postbox is a real SMTP server in the test: it keeps what it is given.
type postbox struct {
	host string
	port int
	pool *x509.CertPool

	mu     sync.Mutex
	got    []caught
	refuse bool // says no to every recipient
}

type caught struct {
	from, to, user string
	secure         bool
	raw            []byte
}

func (p *postbox) all() []caught {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]caught(nil), p.got...)
}

type session struct {
	box  *postbox
	conn *smtp.Conn
	now  caught
}

func (s *session) AuthMechanisms() []string { return []string{sasl.Plain} }

func (s *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != "corbel" || password != "salt and time" {
			return smtp.ErrAuthFailed
		}
		s.now.user = user
		return nil
	}), nil
}

func (s *session) Mail(from string, _ *smtp.MailOptions) error { s.now.from = from; return nil }

func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	if s.box.refuse {
		return &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "nobody of that name here"}
	}
	s.now.to = to
	return nil
}

func (s *session) Data(r io.Reader) error {
	b, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	_, s.now.secure = s.conn.TLSConnectionState()
	s.now.raw = b
	s.box.mu.Lock()
	defer s.box.mu.Unlock()
	s.box.got = append(s.box.got, s.now)
	return nil
}

func (s *session) Reset()        {}
func (s *session) Logout() error { return nil }

// open starts a server; with a certificate it offers STARTTLS.
func open(t *testing.T, withTLS bool) *postbox {
	t.Helper()
	box := &postbox{}
	srv := smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) { return &session{box: box, conn: c}, nil }))
	srv.Domain = "mail.example.test"
	srv.AllowInsecureAuth = true
	srv.ErrorLog = quiet{}
	if withTLS {
		cert, pool := certificate(t)
		box.pool = pool
		srv.TLSConfig = &tls.Config{Certificates: []tls.Certificate{cert}}
	}
	box.host, box.port = listen(t, func(l net.Listener) { _ = srv.Serve(l) })
	t.Cleanup(func() { srv.Close() })
	return box
}

type quiet struct{}

func (quiet) Printf(string, ...any) {}
func (quiet) Println(...any)        {}

func listen(t *testing.T, serve func(net.Listener)) (string, int) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	wg.Go(func() { serve(l) })
	t.Cleanup(func() { l.Close(); wg.Wait() })
	a := l.Addr().(*net.TCPAddr)
	return "127.0.0.1", a.Port
}

// certificate makes one for 127.0.0.1 that nobody but the test trusts.
func certificate(t *testing.T) (tls.Certificate, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tmpl := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "mail.example.test"},
		NotBefore: time.Unix(0, 0), NotAfter: time.Unix(1<<33, 0),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(leaf)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, pool
}

func passwordFile(t *testing.T, text string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

func TestSMTPWithStartTLSAndPassword(t *testing.T) {
	box := open(t, true)
	s := SMTP{Host: box.host, Port: box.port, User: "corbel", PasswordFile: passwordFile(t, "salt and time\n"), Roots: box.pool, Hello: "corbel.example.test"}
	m := compose(t, samples()[shop.NoticeBooked])
	m.Text += "\n.\n..two dots at the start of a line\n" // RFC 5321, 4.5.2
	if err := s.Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	got := box.all()
	if len(got) != 1 || !got[0].secure || got[0].user != "corbel" || got[0].from != "hello@corbel.example.test" || got[0].to != "nerys@mail.example.test" {
		t.Fatalf("%+v", got)
	}
	want, err := m.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	if strings.TrimRight(string(got[0].raw), "\r\n") != strings.TrimRight(string(want), "\r\n") {
		t.Errorf("the message changed on its way:\n%s", got[0].raw)
	}
	h, parts := read(t, got[0].raw)
	if h.Get("Message-ID") != "<"+m.ID+">" || len(parts) != 3 {
		t.Errorf("%v, %d parts", h, len(parts))
	}
}

func TestSMTPRefusals(t *testing.T) {
	m := compose(t, samples()[shop.NoticeReady])
	open1, secure := open(t, false), open(t, true)
	refusing := open(t, true)
	refusing.refuse = true
	_, stranger := certificate(t)
	for _, tc := range []struct {
		name string
		s    SMTP
		box  *postbox
		want string
	}{
		{"no STARTTLS offered", SMTP{Host: open1.host, Port: open1.port}, open1, "STARTTLS"},
		{"a certificate nobody vouches for", SMTP{Host: secure.host, Port: secure.port, Roots: stranger}, secure, "certificate"},
		{"wrong password", SMTP{Host: secure.host, Port: secure.port, Roots: secure.pool, User: "corbel", PasswordFile: passwordFile(t, "pepper")}, secure, "535"},
		{"no password file", SMTP{Host: secure.host, Port: secure.port, Roots: secure.pool, User: "corbel", PasswordFile: "/nowhere/password"}, secure, "password"},
		{"user without password", SMTP{Host: secure.host, Port: secure.port, User: "corbel"}, secure, "password file"},
		{"unknown security", SMTP{Host: secure.host, Port: secure.port, Security: "maybe"}, secure, "maybe"},
		{"no host", SMTP{Port: 25}, secure, "host"},
		{"the server says no", SMTP{Host: refusing.host, Port: refusing.port, Roots: refusing.pool}, refusing, "nobody of that name here"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			err := tc.s.Send(t.Context(), m)
			if err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("Send = %v, want an error with %q", err, tc.want)
			}
			if got := tc.box.all(); len(got) != 0 {
				t.Errorf("a message went out: %+v", got)
			}
		})
	}
	plain := SMTP{Host: open1.host, Port: open1.port, Security: Plain}
	if err := plain.Send(t.Context(), m); err != nil || len(open1.all()) != 1 || open1.all()[0].secure {
		t.Errorf("plain, where the settings say so: %v", err)
	}
}

// A server that takes the call and then says nothing, at the beginning or in the
// middle, may not keep the shop's mail waiting for ever.
func TestSMTPServerThatHangs(t *testing.T) {
	for name, say := range map[string]string{
		"silent":          "",
		"after greeting":  "220 mail.example.test ready\r\n",
		"after the hello": "220 mail.example.test ready\r\n250 mail.example.test\r\n",
	} {
		t.Run(name, func(t *testing.T) {
			host, port := listen(t, func(l net.Listener) {
				for {
					c, err := l.Accept()
					if err != nil {
						return
					}
					defer c.Close()
					_, _ = io.WriteString(c, say)
				}
			})
			s := SMTP{Host: host, Port: port, Security: Plain, Timeout: 300 * time.Millisecond}
			err := s.Send(t.Context(), compose(t, samples()[shop.NoticeReady]))
			if err == nil {
				t.Fatal("a message went to a server that says nothing")
			}
			if !errors.Is(err, errSlow) && !errors.Is(err, os.ErrDeadlineExceeded) {
				t.Errorf("error is %v", err)
			}
		})
	}
}

func TestContextIsHonoured(t *testing.T) {
	box := open(t, true)
	s := SMTP{Host: box.host, Port: box.port, Roots: box.pool}
	m := compose(t, samples()[shop.NoticeReady])
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := s.Send(ctx, m); !errors.Is(err, context.Canceled) {
		t.Errorf("SMTP: %v", err)
	}
	if err := (Folder{t.TempDir()}).Send(ctx, m); !errors.Is(err, context.Canceled) {
		t.Errorf("folder: %v", err)
	}
	host, port := listen(t, func(l net.Listener) {
		c, err := l.Accept()
		if err != nil {
			return
		}
		defer c.Close()
		_, _ = c.Read(make([]byte, 1))
	})
	ctx, cancel = context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	if err := (SMTP{Host: host, Port: port, Security: Plain}).Send(ctx, m); err == nil {
		t.Error("the deadline was not kept")
	}
	if len(box.all()) != 0 {
		t.Error("a message went out")
	}
}

func TestFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "mail")
	f := Folder{dir}
	all := samples()
	for _, kind := range []string{shop.NoticeReady, shop.NoticeBooked, shop.NoticeReady} {
		if err := f.Send(t.Context(), compose(t, all[kind])); err != nil {
			t.Fatal(err)
		}
	}
	late := all[shop.NoticeReady] // sent again at a later try: still the same message
	late.notice.DueAt = late.notice.DueAt.Add(time.Hour)
	if err := f.Send(t.Context(), compose(t, late)); err != nil {
		t.Fatal(err)
	}
	files, err := os.ReadDir(dir)
	if err != nil || len(files) != 2 {
		t.Fatalf("%v, %v", files, err)
	}
	if n := files[0].Name(); !strings.HasPrefix(n, "20261021T011000Z-") || !strings.HasSuffix(n, ".eml") {
		t.Errorf("first file is %s", n)
	}
	b, err := os.ReadFile(filepath.Join(dir, files[1].Name()))
	if err != nil {
		t.Fatal(err)
	}
	h, _ := read(t, b)
	if h.Get("Subject") != "Your bacon is ready" || strings.Contains(strings.ReplaceAll(string(b), "\r\n", ""), "\n") {
		t.Errorf("%v, or a bare line end", h)
	}
	if err := (Folder{filepath.Join(dir, files[0].Name())}).Send(t.Context(), compose(t, late)); err == nil {
		t.Error("a file was taken for a folder")
	}
}

func TestLoop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		ctx, cancel := context.WithCancel(t.Context())
		wake := make(chan struct{}, 1)
		var runs []time.Duration
		var faults []error
		bad := errors.New("the database is away")
		deliver := func(context.Context) error {
			runs = append(runs, time.Since(start))
			if len(runs) == 2 {
				return bad
			}
			return nil
		}
		done := make(chan struct{})
		go func() {
			Loop(ctx, deliver, wake, time.Minute, func(err error) { faults = append(faults, err) })
			close(done)
		}()
		synctest.Wait()
		time.Sleep(10 * time.Second)
		wake <- struct{}{}
		synctest.Wait()
		time.Sleep(50*time.Second + time.Nanosecond)
		synctest.Wait()
		time.Sleep(time.Minute)
		synctest.Wait()
		cancel()
		<-done
		want := []time.Duration{0, 10 * time.Second, time.Minute, 2 * time.Minute}
		if len(runs) != len(want) {
			t.Fatalf("delivered at %v, want %v", runs, want)
		}
		for i := range want {
			if runs[i] != want[i] {
				t.Errorf("delivered at %v, want %v", runs, want)
			}
		}
		if len(faults) != 1 || faults[0] != bad {
			t.Errorf("faults: %v", faults)
		}
	})
}
