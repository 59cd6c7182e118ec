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
ALL = (GERMAN, FRENCH, ITALIAN, ACROSS, LASER, PRINTED, REPEATED, SPREADS, TWO_IRONS, MOLAR, OXIDES_IN_PPM)


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
