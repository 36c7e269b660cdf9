package photo

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/fault"
)

// corners is a picture whose left upper quarter is red, right upper green, left lower blue, right lower black.
func corners(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{A: 255}
			switch {
			case x < w/2 && y < h/2:
				c.R = 255
			case y < h/2:
				c.G = 255
			case x < w/2:
				c.B = 255
			}
			img.SetRGBA(x, y, c)
		}
	}
	return img
}

func asJPEG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asPNG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// with puts a part behind the start of a JPEG.
func with(plain []byte, code byte, body string) []byte {
	part := append(binary.BigEndian.AppendUint16([]byte{0xff, code}, uint16(len(body)+2)), body...)
	return append(append(append([]byte{}, plain[:2]...), part...), plain[2:]...)
}

// exif is the metadata of a telephone that was held in a way, with a place, in either order of bytes [EXIF2023].
func exif(order binary.AppendByteOrder, mark string, orientation uint16) string {
	b := []byte("Exif\x00\x00" + mark)
	b = order.AppendUint16(b, 42)
	b = order.AppendUint32(b, 8)
	b = order.AppendUint16(b, 1)
	b = order.AppendUint16(b, 0x0112)
	b = order.AppendUint16(b, 3)
	b = order.AppendUint32(b, 1)
	b = order.AppendUint16(b, orientation)
	b = order.AppendUint16(b, 0)
	b = order.AppendUint32(b, 0)
	return string(b) + "GPSLatitude 47 54 4.44 N 47.9012"
}

// Nothing that came along is left: EXIF with a place, XMP, a comment, a colour profile, bytes after the end, PNG texts.
func TestNothingComesAlong(t *testing.T) {
	plain := asJPEG(t, corners(200, 120))
	secret := "47.9012 hole 17"
	full := append(with(with(with(plain, 0xe1, exif(binary.BigEndian, "MM", 1)), 0xe1, "http://ns.adobe.com/xap/1.0/\x00<x>"+secret+"</x>"), 0xfe, secret), secret...)
	text := asPNG(t, corners(200, 120))
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len("Comment\x00"+secret)))
	body := []byte("tEXtComment\x00" + secret)
	chunk = binary.BigEndian.AppendUint32(append(chunk, body...), crc32.ChecksumIEEE(body))
	text = append(append(append([]byte{}, text[:33]...), chunk...), text[33:]...)
	for what, data := range map[string][]byte{"JPEG": full, "PNG": text} {
		p, err := Clean(data)
		if err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		if p.Width != 200 || p.Height != 120 {
			t.Errorf("%s: %d by %d", what, p.Width, p.Height)
		}
		for _, s := range []string{"47.9012", "hole", "Exif", "ns.adobe", "GPS", "JFIF"} {
			if bytes.Contains(p.Data, []byte(s)) {
				t.Errorf("%s: %q is left", what, s)
			}
		}
		again, err := Clean(p.Data)
		if err != nil || again.Width != 200 {
			t.Errorf("%s: what was drawn anew cannot be read: %v", what, err)
		}
	}
}

// A picture is turned upright as its eight orientations say, in both orders of bytes: the red quarter comes out at the left top. What each number means:
// [EXIF2023], from memory; drawn out by hand.
func TestUpright(t *testing.T) {
	// where the red, first stored quarter lies once the picture is upright, by orientation: row 0 at the top, column 0 at the left
	want := map[uint16][2]int{1: {0, 0}, 2: {0, 1}, 3: {1, 1}, 4: {1, 0}, 5: {0, 0}, 6: {0, 1}, 7: {1, 1}, 8: {1, 0}}
	for n, at := range want {
		for mark, order := range map[string]binary.AppendByteOrder{"II": binary.LittleEndian, "MM": binary.BigEndian} {
			p, err := Clean(with(asJPEG(t, corners(200, 120)), 0xe1, exif(order, mark, n)))
			if err != nil {
				t.Fatal(err)
			}
			if turned := n >= 5; turned != (p.Height == 200) {
				t.Errorf("orientation %d: %d by %d", n, p.Width, p.Height)
			}
			img, err := jpeg.Decode(bytes.NewReader(p.Data))
			if err != nil {
				t.Fatal(err)
			}
			r, g, b, _ := img.At(p.Width/4+at[1]*p.Width/2, p.Height/4+at[0]*p.Height/2).RGBA()
			if r>>8 < 200 || g>>8 > 60 || b>>8 > 60 {
				t.Errorf("orientation %d %s: %d %d %d at the place of red", n, mark, r>>8, g>>8, b>>8)
			}
		}
	}
}

// A large picture comes out no longer than it may, in its own shape; what is clear is white.
func TestShrinks(t *testing.T) {
	p, err := Clean(asJPEG(t, corners(3200, 1200)))
	if err != nil || p.Width != Longest || p.Height != 600 {
		t.Errorf("%d by %d, %v", p.Width, p.Height, err)
	}
	clear := image.NewNRGBA(image.Rect(0, 0, 40, 40))
	if p, err = Clean(asPNG(t, clear)); err != nil {
		t.Fatal(err)
	}
	img, err := jpeg.Decode(bytes.NewReader(p.Data))
	if err != nil {
		t.Fatal(err)
	}
	if r, _, _, _ := img.At(20, 20).RGBA(); r>>8 < 250 {
		t.Errorf("what is clear is %d", r>>8)
	}
}

// pngOf claims a size and holds nothing: a bomb by its head alone.
func pngOf(w, h uint32) []byte {
	body := []byte("IHDR")
	body = binary.BigEndian.AppendUint32(body, w)
	body = binary.BigEndian.AppendUint32(body, h)
	body = append(body, 8, 2, 0, 0, 0)
	out := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0d")
	return binary.BigEndian.AppendUint32(append(out, body...), crc32.ChecksumIEEE(body))
}

// Hostile and broken files are refused quickly, by name and with a way to mend it.
func TestRefuses(t *testing.T) {
	plain := asJPEG(t, corners(200, 120))
	passes := append(append([]byte{}, plain[:len(plain)-2]...), bytes.Repeat([]byte{0xff, 0xda, 0, 8, 1, 1, 0, 0, 63, 0}, mostScans+1)...)
	for what, x := range map[string]struct {
		data []byte
		says string
	}{
		"text": {[]byte("a photo that is no photo"), "no JPEG"}, "nothing": {nil, "no JPEG"}, "a page": {[]byte("<html>"), "no JPEG"}, "GIF": {[]byte("GIF89a"), "no JPEG"},
		"half": {plain[:len(plain)/3], ""}, "head alone": {plain[:4], ""}, "huge": {pngOf(60000, 60000), "unpacks to 60000 by 60000"}, "long": {pngOf(19_999, 19_999), "unpacks to"}, "thin": {pngOf(4_000_000, 2), "unpacks to"},
		"tiny": {asPNG(t, corners(2, 2)), "too small"}, "passes": {passes, "passes"}, "heavy": {make([]byte, MostBytes+1), "MB"}, "empty PNG": {pngOf(100, 100), "damaged"},
	} {
		began := time.Now()
		_, err := Clean(x.data)
		f := fault.Public(err)
		if fault.CodeOf(err) != fault.BadInput || f.Hint == "" || !strings.Contains(f.Message, x.says) {
			t.Errorf("%s: %v", what, err)
		}
		if d := time.Since(began); d > 2*time.Second {
			t.Errorf("%s took %s", what, d)
		}
	}
}

// A file of few bytes that unpacks to the most that is taken costs seconds, not minutes.
func TestLargestTaken(t *testing.T) {
	if testing.Short() {
		t.Skip("it unpacks 50 million dots")
	}
	data := asPNG(t, image.NewPaletted(image.Rect(0, 0, 7000, 7000), color.Palette{color.White, color.Black}))
	began := time.Now()
	if _, err := Clean(data); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d bytes, 49 million dots: %s", len(data), time.Since(began))
	if d := time.Since(began); d > 30*time.Second {
		t.Errorf("it took %s", d)
	}
}

// Whatever comes in, Clean gives a plain JPEG within bounds or a fault that may be shown; it never panics.
func FuzzClean(f *testing.F) {
	small := asJPEG(f, corners(24, 20))
	f.Add(small)
	f.Add(with(small, 0xe1, exif(binary.LittleEndian, "II", 6)))
	f.Add(asPNG(f, corners(24, 20)))
	f.Add(pngOf(60000, 60000))
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x10Exif\x00\x00II*\x00\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<16 {
			t.Skip("small files show as much")
		}
		if size, _, err := image.DecodeConfig(bytes.NewReader(data)); err == nil && size.Width*size.Height > 1<<20 && size.Width*size.Height <= mostDots {
			t.Skip("small pictures show as much") // those past the cap are refused by their header
		}
		p, err := Clean(data)
		if err != nil {
			if fault.CodeOf(err) == fault.Internal {
				t.Errorf("a file is the program's own mistake: %v", err)
			}
			return
		}
		size, err := jpeg.DecodeConfig(bytes.NewReader(p.Data))
		if err != nil || size.Width != p.Width || max(p.Width, p.Height) > Longest || bytes.Contains(p.Data, []byte("Exif")) {
			t.Errorf("%d by %d, %v", p.Width, p.Height, err)
		}
	})
}
