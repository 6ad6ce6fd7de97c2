"""The lessons and practical checks of each safety topic, in Spanish."""

from __future__ import annotations

from typing import Final

from .shapes import Lesson

LESSONS: Final[dict[str, Lesson]] = {
    "saw-frame": Lesson(
        "Arco de sierra",
        (
            "Una hoja tensa puede romperse y saltar, y corta un dedo igual que el metal.",
            "Ponte protección para los ojos con la marca Z87, o la que diga tu escuela, antes de "
            "montar la hoja.",
            "Monta la hoja con los dientes hacia ti y hacia abajo, hacia el mango.",
            "Ténsala hasta que suene al pulsarla.",
            "Apoya el metal plano en el taco del banco, sin ningún dedo en el camino de la hoja.",
            "Sierra con el arco derecho y movimientos largos y suaves; gira el metal, no el arco.",
            "Afloja la presión cerca del final del corte, donde la hoja sale del metal.",
            "Pon toda hoja rota o gastada en la caja de hojas, nunca en la basura ni en el suelo.",
        ),
        (
            "Se pone protección para los ojos y se recoge el pelo y la ropa suelta antes de "
            "empezar",
            "Monta una hoja en el sentido correcto y tan tensa que suena",
            "Mantiene los dedos de la mano que sujeta fuera de la línea de la hoja",
            "Sierra por una línea y dobla una esquina sin forzar la hoja",
            "Quita una hoja rota y la pone en la caja de hojas",
        ),
    ),
    "drill-press": Lesson(
        "Taladro de columna",
        (
            "La chapa fina puede engancharse en la broca y girar como una cuchilla; el pelo y las "
            "mangas se enrollan en un momento.",
            "Ponte protección para los ojos; recógete el pelo; sin guantes, mangas sueltas, "
            "anillos ni cordones.",
            "Sujeta la chapa con una mordaza sobre un taco de madera. Nunca con la mano.",
            "Marca antes el punto con el granete, para que la broca empiece donde quieres.",
            "Quita la llave del portabrocas antes de encender.",
            "Aprieta poco y levanta a menudo; afloja cuando la broca atraviesa.",
            "Apaga y espera a que se pare antes de tocar metal, broca o virutas.",
            "Quita las virutas con un cepillo; nunca con la mano ni soplando.",
        ),
        (
            "Se recoge el pelo y la ropa, se quita los anillos, lleva protección para los ojos y "
            "no lleva guantes",
            "Sujeta una chapa sobre madera de modo que no pueda girar",
            "Pone una broca, aprieta el portabrocas y quita la llave",
            "Taladra una marca con poca presión y afloja al final",
            "Apaga, espera a que se pare y después quita las virutas con el cepillo",
        ),
    ),
    "hand-shears": Lesson(
        "Tijeras de mano y cizalla de banco",
        (
            "Las tijeras pellizcan y cortan sin esfuerzo, y dejan el metal con bordes afilados.",
            "Sabe dónde están tus dos manos antes de cerrar las hojas.",
            "En la cizalla trabaja una sola persona; nadie se pone del lado de la palanca.",
            "Sostén la chapa, para que la tira cortada no se balancee.",
            "Bloquea la palanca de la cizalla cuando termines.",
            "Trata todo borde recién cortado como afilado, y lima sus esquinas antes de pasarlo.",
        ),
        (
            "Mira dónde están sus dos manos y que no haya nadie cerca",
            "Corta una tira por una línea con la chapa sostenida",
            "Bloquea la cizalla o guarda las tijeras y quita las esquinas de la tira",
        ),
    ),
    "foot-guillotine": Lesson(
        "Guillotina de pedal",
        (
            "Su hoja corta dedos igual que chapa, y el pie la mueve mientras miras a otro lado.",
            "Úsala solo donde tu profesor y las normas de la escuela te lo permitan, "
            "con la protección "
            "puesta.",
            "Trabaja una sola persona. Nadie más se pone junto a la hoja ni cerca del pedal.",
            "Apoya la chapa en el tope y deja que el pisón la sujete; las dos manos "
            "quedan detrás de "
            "la protección.",
            "Mira dónde están tus dos manos y entonces pisa el pedal; quita el pie "
            "antes de acercar "
            "las manos.",
            "No cortes nunca algo más estrecho de lo que el pisón sujeta, ni alambre, "
            "varilla o acero "
            "templado.",
            "Trata todo borde recién cortado como afilado, y quita la rebaba con la lima antes de "
            "pasarlo.",
        ),
        (
            "Mira que la protección esté puesta y que no haya nadie cerca",
            "Apoya la chapa en el tope con las dos manos detrás de la protección",
            "Quita el pie del pedal antes de coger las partes",
            "Quita la rebaba con la lima y mata las esquinas",
        ),
    ),
    "abrasives-dust": Lesson(
        "Papel de lija y polvo de metal",
        (
            "El polvo de metal daña los pulmones y los ojos, y parte de él puede arder.",
            "Lija sobre un taco plano, tan despacio que no vuele polvo.",
            "Ponte protección para los ojos.",
            "Recoge el polvo con un paño húmedo; nunca soples ni uses aire comprimido.",
            "Guarda el polvo de aluminio aparte del de hierro y acero, y lejos de las llamas.",
            "Lávate las manos antes de comer, beber o tocarte la cara.",
        ),
        (
            "Lija una zona marcada sobre un taco sin levantar polvo",
            "Limpia el banco con un paño húmedo",
            "Se lava las manos al terminar",
        ),
    ),
    "adhesives-solvents": Lesson(
        "Adhesivos y disolventes",
        (
            "Los disolventes arden y sus vapores te ponen enfermo; algunos adhesivos irritan la "
            "piel.",
            "Usa el adhesivo a base de agua, a menos que el profesor te dé otro.",
            "Los disolventes como la acetona los reparte el profesor, unas gotas cada vez.",
            "Sin llama, soplete, chispa ni placa caliente en la sala mientras haya un disolvente "
            "abierto.",
            "Sabe dónde se guarda la ficha de datos de seguridad del producto.",
            "Mantén la tapa puesta; cada frasco lleva una etiqueta que dice lo que contiene.",
            "Trabaja con aire fresco; que no te toque la piel ni los ojos.",
        ),
        (
            "Muestra dónde están la ficha de datos de seguridad y el lavaojos",
            "Dice qué no debe haber en la sala mientras un disolvente está abierto",
            "Extiende una capa fina y cierra la tapa",
        ),
    ),
    "hot-water-soak": Lesson(
        "Remojo en agua tibia",
        (
            "El agua caliente quema, y los suelos mojados resbalan.",
            "Con tibia basta, como la de un baño: si echa vapor, está demasiado caliente.",
            "Lleva el agua en recipientes pequeños y seca enseguida lo que se derrame.",
            "Mantén el agua lejos de enchufes y máquinas.",
            "Cuidado con los bordes afilados al meter la mano en el recipiente.",
        ),
        (
            "Llena un recipiente con agua tibia, no caliente, y lo lleva sin derramar",
            "Saca del agua una pieza aserrada por sus caras planas",
            "Seca y vacía el recipiente",
        ),
    ),
    "files-sharp-edges": Lesson(
        "Limas y bordes afilados",
        (
            "El metal aserrado tiene rebabas que cortan, y una lima sin mango puede clavarse en la "
            "palma.",
            "Usa solo limas con el mango firme.",
            "Empuja para cortar, levanta para volver; sujeta la pieza en el taco o en una mordaza.",
            "Quita la rebaba de todos los bordes antes de que la pieza pase de mano en mano.",
            "Limpia la lima con su cepillo, no con los dedos.",
            "Los recortes con bordes vivos van a su caja, no a un bolsillo ni a una mochila.",
        ),
        (
            "Mira que el mango de la lima esté firme",
            "Lima un borde con la pieza sujeta de modo que no resbale",
            "Quita la rebaba de un borde todo alrededor y lo enseña al profesor",
        ),
    ),
}
