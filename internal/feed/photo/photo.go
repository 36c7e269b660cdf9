// Package photo answers what of a picture may be kept and shown: it draws a picture anew, without anything that came with it.
//
// Start with [Clean]. What comes out is a JPEG of at most [Longest] dots a side, turned upright, that holds dots and nothing else: no place,
// no hour, no telephone, no hidden first version.
// It assumes hostile input: sizes are read and bounded before a picture is unpacked. It reads JPEG and PNG. It leaves out what the
// picture shows: a skyline is for people to look at.
package photo

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"

	"icehand/internal/base/fault"
)

// Bounds of what is read. A telephone's picture is 12 to 50 million dots in 3 to 15 MB.
const (
	MostBytes  = 24 << 20
	mostDots   = 50_000_000
	mostSide   = 20_000
	mostScans  = 100 // of a progressive JPEG: each is a pass over the whole picture
	Longest    = 1600
	quality    = 82
	smallest   = 16 // dots a side; less is no picture of anything
	orientated = 0x0112
)

// Picture is a picture drawn anew.
type Picture struct {
	Data          []byte // JPEG
	Width, Height int
}

// Clean draws a picture anew. It refuses what is no picture, and what is too large to unpack.
func Clean(data []byte) (Picture, error) {
	refuse := func(hint, format string, args ...any) (Picture, error) {
		return Picture{}, fault.New(fault.BadInput, hint, format, args...)
	}
	if len(data) > MostBytes {
		return refuse("Choose a smaller one, or have the telephone send it at half size.", "the picture is a file of %d MB, at most %d are read", len(data)>>20, MostBytes>>20)
	}
	isJPEG, isPNG := bytes.HasPrefix(data, []byte{0xff, 0xd8, 0xff}), bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n"))
	if !isJPEG && !isPNG {
		return refuse("Choose a JPEG or PNG picture; a telephone can send its pictures as JPEG.", "the file is no JPEG and no PNG picture")
	}
	size, config := image.Config{}, error(nil)
	if isJPEG {
		size, config = jpeg.DecodeConfig(bytes.NewReader(data))
	} else {
		size, config = png.DecodeConfig(bytes.NewReader(data))
	}
	switch {
	case config != nil:
		return Picture{}, fault.Wrap(config, fault.BadInput, "Open it on the telephone; if it shows, send it anew.", "the picture cannot be read: it is damaged or no picture")
	case size.Width > mostSide || size.Height > mostSide || size.Width*size.Height > mostDots:
		return refuse("Choose a smaller one.", "the picture unpacks to %d by %d dots, at most %d million are taken", size.Width, size.Height, mostDots/1_000_000)
	case size.Width < smallest || size.Height < smallest:
		return refuse("Choose another.", "the picture is %d by %d dots: too small to show anything", size.Width, size.Height)
	case isJPEG && bytes.Count(data, []byte{0xff, 0xda}) > mostScans:
		return refuse("Save it anew with an ordinary picture program, or choose another.", "the picture is laid in %d passes, at most %d are read", bytes.Count(data, []byte{0xff, 0xda}), mostScans)
	}
	var img image.Image
	var err error
	if isJPEG {
		img, err = jpeg.Decode(bytes.NewReader(data))
	} else {
		img, err = png.Decode(bytes.NewReader(data))
	}
	if err != nil {
		return Picture{}, fault.Wrap(err, fault.BadInput, "Open it on the telephone; if it shows, send it anew.", "the picture cannot be unpacked: it is damaged")
	}
	small := upright(shrink(img), orientation(data))
	var out bytes.Buffer
	if err := jpeg.Encode(&out, small, &jpeg.Options{Quality: quality}); err != nil {
		return Picture{}, fault.Wrap(err, fault.Internal, "", "the picture cannot be drawn anew")
	}
	return Picture{out.Bytes(), small.Bounds().Dx(), small.Bounds().Dy()}, nil
}

// shrink averages dots so that no side is longer than Longest; what is clear becomes white.
func shrink(img image.Image) *image.RGBA {
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	if long := max(w, h); long > Longest {
		w, h = max(1, w*Longest/long), max(1, h*Longest/long)
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		y0, y1 := b.Min.Y+y*b.Dy()/h, b.Min.Y+max((y+1)*b.Dy()/h, y*b.Dy()/h+1)
		for x := range w {
			x0, x1 := b.Min.X+x*b.Dx()/w, b.Min.X+max((x+1)*b.Dx()/w, x*b.Dx()/w+1)
			out.SetRGBA(x, y, average(img, x0, y0, x1, y1))
		}
	}
	return out
}

// average gives the mean of a block of dots over white.
func average(img image.Image, x0, y0, x1, y1 int) color.RGBA {
	var r, g, b, n uint64
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			var cr, cg, cb, ca uint32
			if yc, ok := img.(*image.YCbCr); ok { // without an allocation a dot
				cr, cg, cb, ca = yc.YCbCrAt(x, y).RGBA()
			} else {
				cr, cg, cb, ca = img.At(x, y).RGBA()
			}
			white := uint64(0xffff - ca)
			r, g, b, n = r+uint64(cr)+white, g+uint64(cg)+white, b+uint64(cb)+white, n+1
		}
	}
	return color.RGBA{R: uint8(r / n >> 8), G: uint8(g / n >> 8), B: uint8(b / n >> 8), A: 0xff}
}

// upright turns and mirrors a picture as its orientation says, 1 to 8 as EXIF numbers them [EXIF2023].
func upright(img *image.RGBA, as int) *image.RGBA {
	if as < 2 || as > 8 {
		return img
	}
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	ow, oh := w, h
	if as >= 5 {
		ow, oh = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, ow, oh))
	for y := range oh {
		for x := range ow {
			var sx, sy int
			switch as {
			case 2:
				sx, sy = w-1-x, y
			case 3:
				sx, sy = w-1-x, h-1-y
			case 4:
				sx, sy = x, h-1-y
			case 5:
				sx, sy = y, x
			case 6:
				sx, sy = y, h-1-x
			case 7:
				sx, sy = w-1-y, h-1-x
			case 8:
				sx, sy = w-1-y, x
			}
			out.SetRGBA(x, y, img.RGBAAt(sx, sy))
		}
	}
	return out
}

// orientation reads how a JPEG was held, out of the one number of its metadata that is needed; 1 where none is told or it cannot be read.
func orientation(b []byte) int {
	for i := 2; i+4 <= len(b) && b[i] == 0xff && b[i+1] != 0xda; {
		n := int(binary.BigEndian.Uint16(b[i+2:]))
		if n < 2 || i+2+n > len(b) {
			return 1
		}
		if part := b[i+4 : i+2+n]; b[i+1] == 0xe1 && bytes.HasPrefix(part, []byte("Exif\x00\x00")) {
			return held(part[6:])
		}
		i += 2 + n
	}
	return 1
}

// held reads the orientation in a TIFF block.
func held(t []byte) int {
	if len(t) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.BigEndian
	if t[0] == 'I' {
		order = binary.LittleEndian
	}
	at := int64(order.Uint32(t[4:]))
	if at < 8 || at+2 > int64(len(t)) {
		return 1
	}
	for k := range int64(order.Uint16(t[at:])) {
		e := at + 2 + 12*k
		if e+12 > int64(len(t)) {
			return 1
		}
		if order.Uint16(t[e:]) == orientated {
			if v := int(order.Uint16(t[e+8:])); v >= 1 && v <= 8 {
				return v
			}
			return 1
		}
	}
	return 1
}
