#!/bin/sh
# Runs the demo job and compares exit code, verdict and named results with the
# file want. Usage: demo.sh BINARY FOLDER
bin=$1
out=$2
dir=$(dirname "$0")/demo
mkdir -p "$(dirname "$out")" && rm -rf "$out"
"$bin" check "$dir/job.yaml" -o "$out" >"$out.verdict" 2>"$out.messages"
code=$?
{
	echo "exit $code"
	sed -n 's/^ "verdict": "\(.*\)",$/verdict \1/p' "$out/summary.json"
	awk -F, '$8 == "fail" { print "fail " $1 "," $4 "," $5 }' "$out/results.csv" | LC_ALL=C sort
	awk -F, '$9 == "not assessed" { print "not assessed " $5 }' "$out/results.csv" | LC_ALL=C sort
	awk -F, '$9 == "superseded" { print "superseded " $5 }' "$out/results.csv" | LC_ALL=C sort
	awk -F, '/^NC-/ { print "register " $1 "," $2 "," $4 }' "$out/register.csv"
	awk -F, 'NR > 1 { print "lot " $1 ": " $3 ", " $4 " assessed, " $6 " fail, " $7 " not assessed" }' "$out/lots.csv"
} >"$out.got"
cat "$out.messages" "$out.verdict"
"$bin" setout "$dir/job.yaml" -o "$out/setout" || exit 1
{
	echo "exit of setout $?"
	awk -F, 'NR > 1 { n++ } END { print "rows to set out by " n }' "$out/setout/setout.csv"
} >>"$out.got"
if ! diff "$dir/want" "$out.got"; then
	echo "demo: the result is not what $dir/want says (lines with < are wanted, lines with > were got)"
	exit 1
fi
echo "demo: exit code, verdict and every failure are as they should be; open $out/report.html and $out/setout/setout.html"
