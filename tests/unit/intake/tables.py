"""Tables as they come from papers, laboratories and spreadsheets. All samples are invented."""

import io

from openpyxl import Workbook

GERMAN = """Tab. 3. Chemische Zusammensetzung (Gew.-%)
Probe Nr.;Fundort;SiO₂;Na₂O;± Na2O;CaO;Al2O3;MgO;FeO(T);Co (ppm);Cl;Summe;Farbe
A7-1;Ödenau;69,5;16,2;0,2;7,9;2,4;<0,5;0,41;1.250;0,9;97,4;blau
A7-2;Ödenau;70,1;15,8;0,2;7,8;2,3;0,6;0,40;1.180;n.n.;97,1;blau
Mittelwert;;69,8;16,0;;7,85;2,35;0,6;0,405;1.215;0,9;;
Stabw;;0,4;0,3;;0,07;0,07;;0,007;50;;;
B1;Ödenau;61,2;1,2;0,2;22,9;3,1;4,5;0,8;tr.;-;93,9;
"""
FRENCH = "Échantillon\tLieu\tSiO2 (% pds)\tNa2O (% pds)\tCaO (% pds)\tK2O (% pds)\tTotal\tCouleur\nV-12\tTest-sur-Eau\t68,42\t17,05\t8,11\tn.d.\t93,58\tvert\nMoyenne\t\t68,4\t17,0\t8,1\t\t93,5\t\nÉcart-type\t\t0,3\t0,2\t0,1\t\t\t\n"
ITALIAN = "Campione|Sito|SiO2|Na2O|CaO|MgO|Somma\nC1|Prova|67,9|16,4|8,0|0,7|93,0\nC2|Prova|<LOD|16,1|8,2|tracce|24,3\n"
ACROSS = """Oxide;G-1;G-2;G-3
SiO2 (wt%);68.1;69.2;70.0
Na2O (wt%);17.2;16.1;15.0
CaO (wt%);8.2;8.3;9.0
Al2O3 (wt%);2.5;2.4;2.2
Total;96.0;96.0;96.2
"""
LASER = """Sample,29Si,Na23,Ca,Al,K,Mg,Fe,Co59,Cu
,wt%,wt%,wt%,wt%,ppm,ppm,ppm,ppm,ppm
R1,32.2,12.4,5.7,1.3,4200,3300,2900,310,1200
R2,32.0,12.6,5.6,1.3,4100,3200,3000,<0.5,1100
"""
PRINTED = """Sample  SiO2  Na2O  CaO  Al2O3
P-1  69.1 ± 0.3  16.0 ± 0.2  8.0 ± 0.1  2.3 ± 0.1
P-2  70.2 ± 0.3  15.1 ± 0.2  < 0.5  2.2 ± 0.1
"""
REPEATED = "Sample\tSiO2\tNa2O\tCaO\nQ\t69.0\t17.0\t8.0\nQ\t69.6\t16.6\t8.1\n\t70.2\t16.2\t8.2\nZ\t71.0\t15.0\t8.0\n"
SPREADS = "Sample,SiO2,1σ,Na2O,2σ,CaO,RSD %,Cu ppm,sd\nS1,69.0,0.4,16.0,0.4,8.0,2,1500,30\n"
TWO_IRONS = "id,SiO2,Na2O,CaO,FeOtot,Fe2O3 (T),Fe ppm\nT1,69,16,8,0.90,1.00,6994\n"
MOLAR = "Sample;SiO2 (mol%);Na2O (mol%);CaO (mol%)\nM1;72,0;15,0;13,0\n"
OXIDES_IN_PPM = "Sample,SiO2 wt%,Na2O wt%,CaO wt%,Sb2O5 (ppm),SrO\nO1,69.5,17,8,4500,450\n"
STEM = """Sample\tSiO2\tNa2O\tCaO\tAl2O3\tK2O
MF-1\t68.1\t16.9\t8.1\t2.5\t0.7
MF-2\t67.5\t17.2\t8.4\t2.4\t0.8
MF-3\t69.2\t16.1\t7.9\t2.6\t0.7
MF-4\t68.8\t16.4\t8.0\t2.5\t0.6
MF-5\t68.0\t16.8\t8.2\t2.5\t0.7
mean\t68.3\t16.7\t8.1\t2.5\t0.7
s.d.\t0.7\t0.4\t0.2\t0.1\t0.1
"""
SPOTS = """Table S2. EPMA data, oxide wt%
Sample\tSpot\tSiO2\tAl2O3\tFeO*\tMnO\tMgO\tCaO\tNa2O\tK2O\tCl\tTotal
VR-03\t1\t67.92\t2.41\t0.62\t0.48\t0.61\t7.98\t16.9\t0.72\t1.05\t98.69
\t2\t68.11\t2.44\t0.59\t0.50\t0.60\t8.02\t16.7\t0.70\t1.01\t98.67
\t3\t67.80\t2.39\t0.60\t0.47\t0.63\t7.95\t17.1\t0.71\t1.08\t98.73
\tMean\t67.94\t2.41\t0.60\t0.48\t0.61\t7.98\t16.9\t0.71\t1.05\t98.69
\tSD (1σ)\t0.16\t0.03\t0.02\t0.02\t0.02\t0.04\t0.2\t0.01\t0.04\t
VR-07\t1\t55.1\t3.2\t0.8\t0.9\t3.6\t18.1\t0.9\t14.8\t0.3\t97.7
\t2\t55.6\t3.1\t0.8\t0.9\t3.5\t18.0\t0.9\t14.9\t0.3\t98.0
\tMean\t55.35\t3.15\t0.8\t0.9\t3.55\t18.05\t0.9\t14.85\t0.3\t97.85
\tSD\t0.35\t0.07\t0\t0\t0.07\t0.07\t0\t0.07\t0\t
"""
SECTIONS = """No.;SiO2;Na2O;CaO;K2O;Al2O3;MgO
Perle blau 12;;;;;;
1;67,9;16,8;8,1;0,7;2,4;0,6
2;68,3;16,5;8,0;0,7;2,4;0,6
MW;68,1;16,65;8,05;0,7;2,4;0,6
1σ;0,3;0,2;0,07;0,0;0,0;0,0
Perle grün 14;;;;;;
1;56,0;1,0;18,2;14,5;3,1;3,9
2;56,4;1,1;18,0;14,6;3,0;3,9
MW;56,2;1,05;18,1;14,55;3,05;3,9
1σ;0,3;0,1;0,1;0,1;0,1;0,0
"""
MAJORS_AND_TRACES = """Sample,SiO2 (wt%),Na2O (wt%),CaO (wt%),MgO (wt%),Al2O3 (wt%),K2O (wt%),Fe2O3 (wt%),MnO,Ti (µg/g),Co (µg/g),Cu (µg/g),Sr (µg/g),Zr (µg/g),La (µg/g),Ce (µg/g)
LA-01,69.5,16.6,7.9,0.52,2.38,0.61,0.72,0.03,410,1.9,"1,250",412,48,6.1,11.3
LA-02,68.8,17.1,8.0,0.55,2.41,0.66,0.70,0.91,402,<0.08,"985",398,46,6.0,11.1
Standard 3 (n = 4),72.0,13.7,11.9,0.01,2.03,0.01,0.01,0.01,44,35.5,37.8,78.4,37.9,36.0,38.4
"""
TWO_HEADER_ROWS = """;SiO2;Na2O;K2O;CaO;MgO;Al2O3;Fe2O3;CoO;CuO
Probe;Gew.-%;Gew.-%;Gew.-%;Gew.-%;Gew.-%;Gew.-%;Gew.-%;ppm;ppm
H 12/3;70,4;15,9;0,55;8,12;0,61;2,41;0,48;1.240;n.b.
H 12/4;69,8;16,2;0,61;8,05;0,58;2,38;0,51;<5;312
"""
BRACKETS = """Sample  SiO2  Na2O  CaO  Al2O3  K2O  MgO
K21  68.4  17.2  7.8  2.4  0.6  0.6
(1σ)  (0.4)  (0.3)  (0.1)  (0.1)  (0.05)  (0.05)
K22  68.0  17.0  8.0  2.5  0.7  0.6
(1σ)  (0.3)  (0.2)  (0.1)  (0.1)  (0.05)  (0.05)
"""
GROUPS = """Group | n | SiO2 | Na2O | CaO | Al2O3 | K2O | MgO
Gruppe I | 12 | 69.4 ± 1.1 | 16.1 ± 0.8 | 7.9 ± 0.4 | 2.5 ± 0.2 | 0.6 ± 0.1 | 0.6 ± 0.1
Gruppe II | 7 | 66.0 ± 9.2 | 17.0 ± 2 | 8.8 ± 0.9 | 2.8 ± 0.3 | 0.7 ± 0.2 | 0.9 ± 0.3
"""
MEANS_ONLY = """Glass\tSiO2\tNa2O\tCaO\tAl2O3
RH mean\t69.0\t17.0\t8.2\t2.4
RH sd\t0.8\t0.5\t0.4\t0.1
LEV mean\t70.5\t15.0\t9.0\t3.0
LEV sd\t1.0\t0.6\t0.5\t0.2
min\t66\t14\t7\t2
max\t73\t18\t10\t3.3
"""
ELEMENTS = """Sample;Si;Na;Ca;Al;Mg;K;Fe;O
E1;32,1;12,5;5,7;1,3;0,4;0,5;0,4;46,1
E1;32,3;12,4;5,6;1,3;0,4;0,5;0,4;46,1
"""
UNDER_GROUPS = """Table 4: composition of the beads
\tMajor and minor oxides (wt%)\t\t\t\t\t\tTrace elements (ppm)\t\t\t
Sample\tSiO2\tNa2O\tK2O\tCaO\tMgO\tAl2O3\tCo\tCuO\tSr\tZr
PB-1\t69.1\t16.4\t0.71\t8.3\t0.62\t2.44\t640\t1220\t420\t50
PB-2\t68.7\t16.9\t0.66\t8.1\t0.58\t2.39\tn.d.\t85\t401\t47
"""
ACROSS_WITH_MEANS = """\tZK 5/1\tZK 5/2\tZK 5/3\tMittelwert\tStabw.\tZK 9
SiO2\t68,02\t67,55\t68,31\t67,96\t0,38\t70,1
Al2O3\t2,45\t2,51\t2,40\t2,45\t0,06\t2,2
Na2O\t17,1\t17,3\t16,8\t17,07\t0,25\t15,2
K2O\t0,72\t0,70\t0,74\t0,72\t0,02\t0,5
CaO\t8,12\t8,20\t8,05\t8,12\t0,08\t9,8
MgO\t0,6\t0,61\t0,58\t0,60\t0,02\t0,7
Cl\t1,1\t1,0\t1,2\t1,10\t0,10\t0,9
Summe\t98,11\t97,87\t98,08\t98,02\t\t99,4
"""
LETTER_S = """Code\tType\tn\t\tSiO2\ts\tNa2O\ts\tCaO\ts\tAl2O3\ts\tFe2O3\ts
AB1\tbead\t5\t\t68,9\t0,5\t16,8\t0,3\t8,0\t0,2\t2,5\t0,1\t0,55\t0,04
AB2\tvessel\t3\t\t70,2\t0,6\t15,9\t0,2\t8,1\t0,1\t2,4\t0,1\t<0,05\t-
"""
LIMITS_AND_FOOTERS = """No. ; SiO2 ; Na2O ; CaO ; K2O ; MgO ; Al2O3 ; FeO ; Sb2O5
D.L. ; 0.05 ; 0.08 ; 0.02 ; 0.02 ; 0.03 ; 0.03 ; 0.05 ; 0.05
12a ; 66.71 ; 17.80 ; 7.02 ; 0.66 ; 0.55 ; 2.31 ; 0.50 ; 2.41
12b ; 66.21 ; 18.02 ; 7.22 ; 0.60 ; 0.51 ; 2.30 ; 0.49 ; bdl
n.d. = not detected ; ; ; ; ; ; ; ;
"""
TWO_METHODS = """ID;SiO2_EPMA;Na2O_EPMA;CaO_EPMA;K2O_EPMA;Al2O3_EPMA;Fe2O3_EPMA;Na23_ppm;K39_ppm;Fe57_ppm;Co59_ppm
S1;69.2;16.8;8.1;0.62;2.4;0.71;124900;5210;5010;12.1
S2;68.8;17.0;8.2;0.60;2.5;0.70;131000;4900;6900;11.8
"""
FRENCH_PPM = """Échant.;SiO2 (%);Na2O (%);CaO (%);Al2O3 (%);MgO (%);K2O (%);Fe2O3 (%);CoO (ppm);Sb2O3 (ppm)
VB-1;67,81;17,3;7,95;2,31;0,61;0,66;0,81;1 250;12 400
VB-2;67,20;17,0;8,05;2,41;0,58;0,64;0,79;n.d.;< 20
Moyenne;67,5;17,15;8,0;2,36;0,595;0,65;0,80;625;6200
Écart-type;0,43;0,21;0,07;0,07;0,02;0,01;0,01;884;8768
"""
ALL = (GERMAN, FRENCH, ITALIAN, ACROSS, LASER, PRINTED, REPEATED, SPREADS, TWO_IRONS, MOLAR, OXIDES_IN_PPM, STEM, SPOTS, SECTIONS, MAJORS_AND_TRACES, TWO_HEADER_ROWS, BRACKETS, GROUPS, MEANS_ONLY, ELEMENTS, UNDER_GROUPS, ACROSS_WITH_MEANS, LETTER_S, LIMITS_AND_FOOTERS, TWO_METHODS, FRENCH_PPM)


def workbook(sheets: dict[str, list[list]]) -> bytes:
    """An XLSX file with these sheets."""
    book = Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()
