#!/bin/sh
# Makes the vendored browser files anew from the published npm packages. Needs npm once, on the machine of whoever
# updates them; building and running Icehand never does. Run it in the checkout's top folder, then read the diff.
set -e
ol=10.10.0
idiomorph=0.8.0
font=5.3.0
here=$(pwd)
tmp=$(mktemp -d)
trap 'rm -rf "$tmp"' EXIT
(cd "$tmp" && npm init -y >/dev/null && npm install --no-audit --no-fund --ignore-scripts \
	"ol@$ol" "idiomorph@$idiomorph" "@fontsource/atkinson-hyperlegible-next@$font" >/dev/null)
cp web/vendor/ol-parts.js "$tmp/entry.js"
bundle() {
	go tool -modfile=tools.mod esbuild "$1" --bundle --minify --format=esm --target=es2020 --legal-comments=none --log-level=warning "--outfile=$2"
}
bundle "$tmp/entry.js" "$here/web/vendor/ol-$ol.js"
bundle "$tmp/node_modules/idiomorph/dist/idiomorph.esm.js" "$here/web/vendor/idiomorph-$idiomorph.js"
for w in 400 700; do
	cp "$tmp/node_modules/@fontsource/atkinson-hyperlegible-next/files/atkinson-hyperlegible-next-latin-$w-normal.woff2" \
		"web/vendor/atkinson-hyperlegible-next-$w.woff2"
done
cd web/vendor && sha256sum ol-[0-9]*.js idiomorph-*.js *.woff2 >SHA256SUMS
