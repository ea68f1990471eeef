set encoding utf8
set term pdfcairo noenhanced size 7.6in,4.4in fontscale 1 linewidth 1.2 pointscale 0.5 font 'sans-serif,10' background rgb '#ffffff'
unset key
set tics nomirror out
set border 3 lw 1 lc rgb '#7a858d'
set tics scale 0.5 textcolor rgb '#000000'
set grid noxtics ytics back lw 0.5 lc rgb '#b07a858d'
set lmargin at screen 0.039474
set rmargin at screen 0.981579
set bmargin at screen 0.140909
set tmargin at screen 0.779545
set logscale x
set xrange [0.182131191115:1.42754241275] noextend
set xtics ('0.2' 0.2, '0.5' 0.5, '1' 1)
set yrange [0:9.03] noextend
set ytics ('0' 0, '2' 2, '4' 4, '6' 6, '8' 8)
set label 'pressure, N/mm2' at screen 0.510526, screen 0.029545 center
set label 'strength, N/mm2' at screen 0.005263, screen 0.820455 left
set key at screen 0.005263, screen 0.985 left top horizontal Left reverse
$d3 << DATA
0.2 3.5 4.9
0.5 7.2 8.6
1.3 0 9.03
DATA
$d4 << DATA
0.2 4.1
0.5 7.9
1.3 8.3
DATA
$d5 << DATA
0.2 3.5 0 1.4
0.5 7.2 0 1.4
1.3 0 0 9.03
DATA
$d6 << DATA
0.4 4.1 0.5 0
DATA
$d7 << DATA
0.2 4.1
0.5 7.9
1.3 8.3
DATA
$d8 << DATA
0.2 4.1
0.5 7.9
1.3 8.3
DATA
set object rect from 0.4, graph 0 to 0.9, graph 1 behind fc rgb '#dd6426' fs transparent solid 0.14 noborder
set arrow from 0.9, graph 0 to 0.9, graph 1 nohead lw 1.5 lc rgb '#dd6426' dt (6,5)
set arrow from graph 0, first 4.1 to graph 1, first 4.1 nohead lw 1.5 lc rgb '#7a858d'
set label 'first' at 0.2, 4.1 left offset character 0.6,0.5 front
plot keyentry with boxes fc rgb '#dd6426' fs transparent solid 0.14 noborder title 'onset', \
     keyentry with lines lw 1.5 lc rgb '#dd6426' dt (6,5) title 'advised', \
     $d3 using 1:2:3 with filledcurves fc rgb '#316be5' fs transparent solid 0.18 noborder title 'band', \
     $d4 using 1:2 with lines lw 2.2 lc rgb '#316be5' title 'curve', \
     $d5 using 1:2:3:4 with vectors nohead lw 2 lc rgb '#7a858d' notitle, \
     $d6 using 1:2:3:4 with vectors nohead lw 2 lc rgb '#3aa772' notitle, \
     $d7 using 1:2 with points pt 1 ps 1 lc rgb '#000000' title 'mean', \
     $d8 using 1:2 with points pt 7 ps 1 lc rgb '#316be5' title 'joint', \
     NaN notitle
