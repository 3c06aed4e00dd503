"""Kinds that fuzzing found, as it left them: each once took down the process that read it."""

from __future__ import annotations

import base64
import zlib
from pathlib import Path

from corpus.blocks import kind, saved

PARQUET_OF_MANY_ROWS = (
    "c-oazUr19?7(e$qFIVwllbzeWHDV9*rl@mM45>YMX8WVgbgOB-6q}4Cs9SS7ktpgRe30rbTeU_dNe>Y{NEm?`1w9o=L=aIu)C?b@"
    "pdNzgJNI~9u#Ef|-|zc(zu)iPd+z#3$cYU&&*7;6He*zcP@fH541IdcAymj#h=vzAaQCl+%bx@{eH&cz4!A@2DnwWN0voMeq{tzR"
    "uoc@HV3iRISg^<<>mVeH`dSIq{-tU%A%u)B9=w?|lpC85PRv5g#NFgJ)S(uR`_i=%UOH`fa^ATTUVi?vf2|4fowo{pJK*r-)LaAL"
    "VrLa!4=C=)9jOBxSZjK)3vlk?qirhSw{r*5Ho#KJdPf#ps6j*}msbBNIbW0<$X)__7HWU*IZCpCwO?(koES*tK3}*D=|b1twkv?Y"
    "zK_4-#1ozyd#A5LI@8NJa)2v8pT45FeSYTDHNaBAdPf#@CMvkJx~X6#(28VXZ17lYB!UGf)bO$)Jv0)lsSeDTEEYr!S3<RHI5Db6"
    "ku;LbibZj$$O1cBkziEVWtf-D(i>h{<kdW<id#DdN&`GWgn4?Hi~z1WK~a$z6i}YZbsj22qj}3qA9?kxL0#sz_U`_dCz95AKJaQm"
    "Q0L3H_Q*Hqk!D4y@cPH<84)QKxr&5By#ssLTacIdCTjI@0v069x(Ue;cbs?$iIWbkMci&edT7u=NT*gPB4I7JLyy?1js#t;jZA9A"
    "aB*I<ebhyLUI*D9g~>KTS33G2%+M7*njSy-QyQVt2=Pr$L^WN9sU9CiW}U>N@x-ZqKO2UNH%L9*p7oocNpWdV(;pdd4zoN?#rd@R"
    "FOGON_`Ut%V1|{EY)wW|$H!yo#=&H=F_KCpGS-P$YHTPmYHi+aci5eZ3ywDXA)yRDRrovn4e8WcIR"
)
PARQUET_OF_OTHER_LEVELS = (
    "c-o~?&1%~~5FV`-)d__<fnBs9f+(#>sgv5F4sJ<EM~Uq?bz0lB1ox&G;RY1jk=!~DltUh%kI`c(Iri9N9-+G{$u6ab{tRMgcD|YU"
    "zFk%w>{S?LE_=|H4psq*JD}}$FZJ+(0b67DOA;?Ki&>6c$dNp{-Q%$So9xPpboXjRt`ziY8YcMzzE#HmnQzI}Ohhw@s0y}~4Bm(5"
    "0i#eQwi%5_j4-RMc&pT=(OEKO1laOJV&4g)@H`w%)50LjKeLShI2Dd4dEl^RQ3b0gYHE`1&bt`ll;0Tqo8cXLg}>7+)OkVifjl;W"
    "okt!8(a<*s@DuI2(q#mi>$AbX7~VDUz8n9`W{K^TieH(WdIkQ;1mW0svDbTj@;tpj`-VKxHbiM%OzkD&4E-TC5Qn(0A@qI3V-@Tp"
    "wsd0QF%A9xeBXK_XVzp;f7Q@QJ*18~OWJgxmeXdVjO_zi|2R=fG<vD=w~P5W5BsYBD9+}$u+ov?OwFC?`olR%T7RVXO1ht%Zar1W"
    "dWLt=@2c}O5eKOlKNqRc<L)o>79yHa`Q1rbsmc2L8QRMH?k?EwB#19Qgwu_|WU>*&@p$Hb4CCZ%JaV_TH_Mw9QE~v}2Vdp;?#Tc4"
    "2aZvyJ^"
)


def unpacked(text: str) -> bytes:
    return zlib.decompress(base64.b85decode(text))


@kind
def parquet_that_claims_137_billion_rows(folder: Path) -> Path:
    """The library asked for 512 GiB."""
    return saved(folder, unpacked(PARQUET_OF_MANY_ROWS), "a.parquet")


@kind
def parquet_whose_statistics_do_not_fit(folder: Path) -> Path:
    """The library ended the process when asked for the sizes of its columns."""
    return saved(folder, unpacked(PARQUET_OF_OTHER_LEVELS), "a.parquet")
