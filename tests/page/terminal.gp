set encoding utf8
set term dumb noenhanced size 60,16
unset key
set tics nomirror out
set border 3
set logscale x
set xrange [0.182131191115:1.42754241275] noextend
set xtics ('0.2' 0.2, '0.5' 0.5, '1' 1)
set yrange [0:9.03] noextend
set ytics ('0' 0, '5' 5)
set xlabel 'pressure, N/mm2'
set label 'strength, N/mm2' at graph 0, graph 1 left offset character -4,1
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
set arrow from 0.4, graph 0 to 0.4, graph 1 nohead
set arrow from 0.9, graph 0 to 0.9, graph 1 nohead
set arrow from 0.9, graph 0 to 0.9, graph 1 nohead
set arrow from graph 0, first 4.1 to graph 1, first 4.1 nohead
set label 'first' at 0.2, 4.1 left offset character 0.6,0.5 front
plot $d3 using 1:2 with dots, $d3 using 1:3 with dots, \
     $d4 using 1:2 with lines lt 1, \
     $d5 using 1:2:3:4 with vectors nohead lt 1, \
     $d6 using 1:2:3:4 with vectors nohead lt 1, \
     $d7 using 1:2 with points pt '=', \
     $d8 using 1:2 with points pt 'o', \
     NaN notitle
