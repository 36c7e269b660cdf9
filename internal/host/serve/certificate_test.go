package serve

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/binary"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"golang.org/x/net/dns/dnsmessage"

	"icehand/internal/keep/phones"
)

// TestCertificateFromAnAuthority: the server gets its certificate by itself from an authority that speaks RFC 8555 and looks
// whether the name leads here, answers under it, and does not ask a second time. The authority is Pebble, the test server of
// the Internet Security Research Group, when it is installed (go install github.com/letsencrypt/pebble/v2/cmd/pebble@v2.10.3).
func TestCertificateFromAnAuthority(t *testing.T) {
	pebble, err := exec.LookPath("pebble")
	if err != nil {
		t.Skip("pebble is not installed: no certificate was asked for")
	}
	const name = "guide.example.org"
	dir := t.TempDir()
	trusted := selfSigned(t, dir)
	authority, managed, plain, secure := freeAddress(t), freeAddress(t), freeAddress(t), freeAddress(t)
	port := func(addr string) (n int) {
		_, p, _ := net.SplitHostPort(addr)
		_, err := fmt.Sscan(p, &n)
		must(t, err)
		return n
	}
	config, err := json.Marshal(map[string]any{"pebble": map[string]any{"listenAddress": authority, "managementListenAddress": managed, "certificate": filepath.Join(dir, "cert.pem"),
		"privateKey": filepath.Join(dir, "key.pem"), "httpPort": port(plain), "tlsPort": port(secure), "profiles": map[string]any{"default": map[string]any{"description": "a quarter", "validityPeriod": 7776000}}}})
	must(t, err)
	must(t, os.WriteFile(filepath.Join(dir, "pebble.json"), config, 0o600))
	ctx, stop := context.WithTimeout(context.Background(), 2*time.Minute)
	defer stop()
	cmd := exec.CommandContext(ctx, pebble, "-config", filepath.Join(dir, "pebble.json"), "-dnsserver", nameServer(t, name))
	cmd.Env = append(os.Environ(), "PEBBLE_VA_NOSLEEP=1", "PEBBLE_WFE_NONCEREJECT=20") // no pauses; one nonce in five is refused, as RFC 8555 lets an authority do
	must(t, cmd.Start())
	defer func() { stop(); _ = cmd.Wait() }()

	asking := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: trusted}}}
	root := x509.NewCertPool()
	for root.Equal(x509.NewCertPool()) {
		r, err := asking.Get("https://" + managed + "/roots/0")
		if err == nil {
			b, _ := io.ReadAll(r.Body)
			_ = r.Body.Close()
			root.AppendCertsFromPEM(b)
		}
		if ctx.Err() != nil {
			t.Fatal("the authority does not start")
		}
		time.Sleep(50 * time.Millisecond)
	}

	book := phones.Open(t.TempDir())
	o := Options{Desk: emptyDesk(t), Log: quiet, Keys: book, Domain: name, Certs: filepath.Join(dir, "certificates"), Authority: "https://" + authority + "/dir", ports: [2]string{plain, secure}, asking: asking}
	serial := func() *big.Int {
		running, end := context.WithCancel(ctx)
		up, done := make(chan string, 1), make(chan error, 1)
		o.Started = func(a string) error { up <- a; return nil }
		go func() { done <- Run(running, o) }()
		select {
		case <-up:
		case err := <-done:
			t.Fatal(err)
		}
		defer func() { end(); must(t, <-done) }()
		browser := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: root}, DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
			return new(net.Dialer).DialContext(ctx, network, secure)
		}}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
		r, err := browser.Get("https://" + name + "/phone/")
		must(t, err)
		defer r.Body.Close()
		if r.StatusCode != http.StatusOK || r.Header.Get("Strict-Transport-Security") == "" {
			t.Errorf("the app's page: %d, %v", r.StatusCode, r.Header)
		}
		if r, err := browser.Get("https://" + name + "/help"); err != nil || r.StatusCode != http.StatusSeeOther {
			t.Errorf("a page of the record without a key: %v, %v", r, err)
		}
		c := r.TLS.PeerCertificates[0]
		if c.VerifyHostname(name) != nil || c.VerifyHostname("elsewhere.example.org") == nil {
			t.Errorf("the certificate is for %v", c.DNSNames)
		}
		return c.SerialNumber
	}
	if first, second := serial(), serial(); first.Cmp(second) != 0 {
		t.Error("a certificate that was held was asked for a second time")
	}
	for _, f := range []string{name, "acme_account+key"} {
		if i, err := os.Stat(filepath.Join(o.Certs, f)); err != nil || i.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s is not kept for the owner alone: %v, %v", f, i, err)
		}
	}
}

// selfSigned writes a key and a certificate for 127.0.0.1 into a folder, and gives who trusts them.
func selfSigned(t *testing.T, dir string) *x509.CertPool {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	must(t, err)
	c := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "authority of a test"}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign}
	der, err := x509.CreateCertificate(rand.Reader, c, c, &key.PublicKey, key)
	must(t, err)
	private, err := x509.MarshalECPrivateKey(key)
	must(t, err)
	shown := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	must(t, os.WriteFile(filepath.Join(dir, "cert.pem"), shown, 0o600))
	must(t, os.WriteFile(filepath.Join(dir, "key.pem"), pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: private}), 0o600))
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(shown)
	return pool
}

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	defer l.Close()
	return l.Addr().String()
}

// nameServer answers over TCP on loopback that a name is 127.0.0.1, and that nothing else exists.
func nameServer(t *testing.T, name string) (address string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	t.Cleanup(func() { _ = l.Close() })
	answer := func(c net.Conn) error {
		defer c.Close()
		var size uint16 // RFC 1035, 4.2.2: two bytes of length before each message
		if err := binary.Read(c, binary.BigEndian, &size); err != nil {
			return err
		}
		b := make([]byte, size)
		if _, err := io.ReadFull(c, b); err != nil {
			return err
		}
		var m dnsmessage.Message
		if err := m.Unpack(b); err != nil || len(m.Questions) != 1 {
			return fmt.Errorf("no question: %w", err)
		}
		q := m.Questions[0]
		m.Header.Response, m.Header.Authoritative, m.Additionals = true, true, nil
		if q.Name.String() != name+"." {
			m.Header.RCode = dnsmessage.RCodeNameError
		} else if q.Type == dnsmessage.TypeA {
			m.Answers = []dnsmessage.Resource{{Header: dnsmessage.ResourceHeader{Name: q.Name, Type: q.Type, Class: q.Class, TTL: 1}, Body: &dnsmessage.AResource{A: [4]byte{127, 0, 0, 1}}}}
		}
		out, err := m.Pack()
		if err == nil {
			_, err = c.Write(append(binary.BigEndian.AppendUint16(nil, uint16(len(out))), out...))
		}
		return err
	}
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return // closed
			}
			if err := answer(c); err != nil {
				t.Log("a question for the name was not answered:", err)
			}
		}
	}()
	return l.Addr().String()
}
